//! Marked pictures pixel by pixel: what is drawn where, what is not, and that nothing else changes the film.

use super::ink::{self, MarkLook};
use super::stored::{Gap, Mark};
use super::*;
use filmgauge_quantities::GreyImage;
use filmgauge_results::{Curve, CurveBand, CurvePoint, FilmDrawing, Panel};

const SIZE: (usize, usize) = (320, 200);

fn stored() -> FilmResults {
    let mark = |frame: u32, x: f64, look| Mark { frame, at: [x, 100.0], look };
    let found = (0..10)
        .filter(|frame| *frame != 5)
        .map(|frame| mark(frame, 50.0 + 3.0 * f64::from(frame), MarkLook::Found));
    let curve = Curve {
        label: "car, film".into(),
        source: "film".into(),
        points: (0..10)
            .map(|n| CurvePoint { time_s: f64::from(n) * 1e-3, value: (n != 5).then_some(14.0) })
            .collect(),
        band: Some(CurveBand { half_width: vec![Some(0.1); 10] }),
    };
    FilmResults {
        drawing: FilmDrawing {
            camera: "side".into(),
            metres_per_px: Some(0.01),
            times_s: (0..10).map(|n| f64::from(n) * 1e-3).collect(),
            u_times_s: vec![1e-5; 10],
            ..FilmDrawing::default()
        },
        event_frames: Vec::new(),
        marks: vec![
            ("C1".into(), found.collect()),
            ("C2".into(), vec![mark(3, 150.0, MarkLook::Hand)]),
            ("C3".into(), vec![mark(3, 250.0, MarkLook::Inferred)]),
        ],
        gaps: vec![Gap { target: "C1".into(), frames: [5, 5], cause: "hidden".into() }],
        panels: vec![Panel {
            title: "Speed along the path".into(),
            unit: "m/s".into(),
            curves: vec![curve],
            markers: Vec::new(),
        }],
    }
}

fn look(trail: u32) -> MarkedLook {
    MarkedLook {
        test: "HB-014".into(),
        title: "Hatchback".into(),
        units: UnitSystem::Si,
        slower: "1/40 of real time".into(),
        curves: vec!["speed".into()],
        trail,
        frames: [0, 9],
        damage: false,
    }
}

fn film(trail: u32) -> MarkedFilm {
    MarkedFilm::new(stored(), look(trail), SIZE).unwrap()
}

fn grey(level: u8) -> GreyImage {
    GreyImage::from_u8(SIZE.0, SIZE.1, vec![level; SIZE.0 * SIZE.1]).unwrap()
}

fn drawn(film: &MarkedFilm, frame: u32) -> ColourPicture {
    film.picture(frame, &grey(90).view(), Rows::All, false).unwrap()
}

/// Pixels of an ink in the columns of the film about x, px of the film.
fn inked(picture: &ColourPicture, film: &MarkedFilm, ink: [u8; 3], [from, to]: [usize; 2]) -> usize {
    let (_, top, factor) = film.film_at();
    let rows = top..top + SIZE.1 * factor;
    rows.flat_map(|y| (from * factor..to * factor).map(move |x| 3 * (y * picture.width + x)))
        .filter(|at| picture.rgb[*at..*at + 3] == ink)
        .count()
}

#[test]
fn marks_are_drawn_in_their_frame_by_state_and_nowhere_else() {
    let film = film(0);
    let third = drawn(&film, 3);
    let [found, hand, inferred] = MarkLook::ALL.map(ink::of_state);
    assert!(inked(&third, &film, found, [50, 70]) > 20);
    assert!(inked(&third, &film, hand, [142, 158]) > 20);
    let dashes = inked(&third, &film, inferred, [242, 258]);
    assert!(dashes > 10 && dashes < inked(&third, &film, found, [50, 70]), "{dashes}");
    let fifth = drawn(&film, 5);
    for ink in [found, hand, inferred] {
        assert_eq!(inked(&fifth, &film, ink, [0, SIZE.0]), 0, "no mark, nothing drawn");
    }
    // The gap is said above the film.
    let (_, top, _) = film.film_at();
    let alarm = |picture: &ColourPicture| {
        picture.rgb[..3 * top * picture.width].chunks_exact(3).filter(|pixel| **pixel == ink::ALARM).count()
    };
    assert_eq!(alarm(&third), 0);
    assert!(alarm(&fifth) > 10);
    assert!(alarm(&film.picture(3, &grey(90).view(), Rows::All, true).unwrap()) > 10, "damage is said too");
}

/// Amber pixels in the columns of the film about x, px of the film, however thin the line: the film is grey.
fn amber(film: &MarkedFilm, frame: u32, [from, to]: [usize; 2]) -> usize {
    let picture = drawn(film, frame);
    let (_, top, factor) = film.film_at();
    let rows = top..top + SIZE.1 * factor;
    rows.flat_map(|y| (from * factor..to * factor).map(move |x| 3 * (y * picture.width + x)))
        .filter(|at| i32::from(picture.rgb[*at]) - i32::from(picture.rgb[*at + 2]) > 40)
        .count()
}

#[test]
fn trails_reach_back_and_break_at_gaps() {
    let (with, without) = (film(9), film(0));
    assert!(amber(&with, 9, [52, 60]) >= 6 && amber(&without, 9, [52, 60]) == 0);
    assert_eq!(amber(&film(3), 9, [50, 66]), 0, "three frames back are frames 6 to 8");
    // Frame 5 has no mark: nothing joins those of frames 4 and 6.
    assert_eq!(amber(&with, 9, [64, 67]), 0);
}

#[test]
fn grey_levels_are_those_of_the_film_at_any_depth() {
    let film = film(0);
    let (_, top, factor) = film.film_at();
    let corner = |picture: &ColourPicture, x: usize, y: usize| {
        let at = 3 * ((top + y * factor) * picture.width + x * factor);
        picture.rgb[at..at + 3].to_vec()
    };
    assert_eq!(corner(&drawn(&film, 0), 300, 20), [90; 3]);
    let deep = GreyImage::from_u16(SIZE.0, SIZE.1, 12, vec![4095; SIZE.0 * SIZE.1]).unwrap();
    assert_eq!(corner(&film.picture(0, &deep.view(), Rows::All, false).unwrap(), 300, 20), [255; 3]);
    let half = GreyImage::from_u8(SIZE.0, SIZE.1 / 2, vec![7; SIZE.0 * SIZE.1 / 2]).unwrap();
    let field = film.picture(0, &half.view(), Rows::EveryOther { first: 1 }, false).unwrap();
    assert_eq!(corner(&field, 300, 199), [7; 3]);
    let small = GreyImage::from_u8(8, 8, vec![0; 64]).unwrap();
    assert!(film.picture(0, &small.view(), Rows::All, false).is_err());
}

#[test]
fn pictures_are_even_and_the_same_again() {
    let film = film(4);
    let (one, other) = (drawn(&film, 7), drawn(&film, 7));
    assert_eq!(one, other);
    assert_eq!((one.width % 2, one.height % 2, one.rgb.len()), (0, 0, 3 * one.width * one.height));
    assert!(one.png().unwrap().starts_with(b"\x89PNG"));
    assert_ne!(one, drawn(&film, 8));
}

#[test]
fn curves_that_are_not_there_are_named() {
    let wanted = |curves: &[&str]| {
        let curves = curves.iter().map(|name| (*name).to_owned()).collect();
        MarkedFilm::new(stored(), MarkedLook { curves, ..look(0) }, SIZE)
    };
    assert!(wanted(&[]).is_ok());
    let said = wanted(&["yaw"]).unwrap_err().to_string();
    assert!(said.contains("no curve \"yaw\"; the results hold speed"), "{said}");
    let said = wanted(&["speed"; 5]).unwrap_err().to_string();
    assert!(said.contains("one too many"), "{said}");
}

#[test]
fn what_was_written_is_read_back() {
    let dir = tempfile::tempdir().unwrap();
    let mut results = crate::fixture::results();
    results.drawings = vec![stored().drawing];
    crate::write_results(dir.path(), &results, None).unwrap();
    let read = FilmResults::read(dir.path(), "side").unwrap();
    assert_eq!(read.drawing, results.drawings[0]);
    assert_eq!(read.curve_names()[0], "speed");
    let n_marks: usize = read.marks.iter().map(|(_, marks)| marks.len()).sum();
    assert_eq!(n_marks, results.marks.iter().filter(|mark| mark.camera == "side").count());
    assert_eq!(read.gaps.len(), 1);
    let said = FilmResults::read(dir.path(), "rear").unwrap_err().to_string();
    assert!(said.contains("drawing-rear.json") && said.contains("measure the dossier again"), "{said}");
}
