//! `lens`: finds a chessboard in pictures, calibrates the lens from it, and writes lens files and a drawing.

use super::lens_page::{as_json, drawing, print};
use crate::exit::Exit;
use crate::watch::{Terminal, stop_flag};
use anyhow::{Context, bail, ensure};
use filmgauge_dossier::{Progress, Watch};
use filmgauge_footage::{Frame, ReadOptions};
use filmgauge_geometry::{FlatGrid, GridView, LensFile, LensFitOptions, fit_lens};
use filmgauge_quantities::Length;
use filmgauge_report::{lens_svg, write_file};
use filmgauge_targets::{ChessboardOptions, find_chessboard};
use std::io::Write;
use std::path::Path;
use std::sync::atomic::Ordering;

/// Most pictures that are taken: more tell nothing new and cost time.
const MOST_PICTURES: usize = 300;

/// What was asked for, as typed.
pub(super) struct Wanted<'a> {
    pub(super) grid: &'a str,
    pub(super) pitch: &'a str,
    pub(super) out: Option<&'a Path>,
    pub(super) opencv: Option<&'a Path>,
    pub(super) picture: Option<&'a Path>,
}

/// A picture that gave no view.
pub(super) struct Unused {
    pub(super) name: String,
    pub(super) reason: String,
}

/// What was found in all pictures.
struct Found {
    views: Vec<GridView>,
    unused: Vec<Unused>,
    size_px: (u32, u32),
}

pub(super) fn lens(
    images: &[String],
    wanted: &Wanted,
    json: bool,
    out: &mut dyn Write,
) -> anyhow::Result<Exit> {
    let grid = grid(wanted)?;
    if let Some(path) = wanted.picture {
        let is_svg = path.extension().is_some_and(|ending| ending.eq_ignore_ascii_case("svg"));
        ensure!(is_svg, "--picture: {} does not end in .svg; drawings are written as SVG", path.display());
    }
    let terminal = Terminal::new();
    let found = found(images, &grid, &terminal);
    terminal.clear();
    let found = found?;
    let fit = fit_lens(&grid, &found.views, found.size_px, &LensFitOptions::default())
        .with_context(|| said(&found))?;
    let file = LensFile::of_fit(&fit);
    if let Some(path) = wanted.out {
        write_file(path, file.to_toml().as_bytes())?;
    }
    if let Some(path) = wanted.opencv {
        write_file(path, file.to_opencv_yaml().as_bytes())?;
    }
    if let Some(path) = wanted.picture {
        write_file(path, lens_svg(&drawing(&fit, &found.views))?.as_bytes())?;
    }
    if json {
        writeln!(out, "{}", serde_json::to_string_pretty(&as_json(&fit, &found.unused))?)?;
    } else {
        print(&fit, &found.unused, out)?;
        let files = [wanted.out, wanted.opencv, wanted.picture].into_iter().flatten();
        for path in files {
            writeln!(out, "wrote          {}", path.display())?;
        }
    }
    Ok(Exit::person_if(!found.unused.is_empty() || !fit.odd.is_empty()))
}

/// What became of the pictures, for an error that follows from it.
fn said(found: &Found) -> String {
    let reasons: Vec<String> =
        found.unused.iter().map(|unused| format!("{}: {}", unused.name, unused.reason)).collect();
    let rest = if reasons.is_empty() { String::new() } else { format!("; not used: {}", reasons.join("; ")) };
    format!("board found in {} of {} pictures{rest}", found.views.len(), found.views.len() + reasons.len())
}

fn grid(wanted: &Wanted) -> anyhow::Result<FlatGrid> {
    let rule = || format!("--grid: {} is no grid; write inner corners as 9x6", wanted.grid);
    let (columns, rows) = wanted.grid.split_once(['x', 'X', '×']).with_context(rule)?;
    let number = |text: &str| text.trim().parse::<usize>().with_context(rule);
    let (columns, rows) = (number(columns)?, number(rows)?);
    ChessboardOptions::of(columns, rows).check()?;
    let grid = FlatGrid { columns, rows, pitch: pitch(wanted.pitch)? };
    grid.check()?;
    Ok(grid)
}

/// A length with its unit, which must be there: a bare number has been millimetres to one and metres to the next.
fn pitch(text: &str) -> anyhow::Result<Length> {
    let rule = || format!("--pitch: {text} is no length with a unit; write it as 25mm, 2.5cm, 0.025m or 1in");
    let begins = text.find(|letter: char| letter.is_ascii_alphabetic()).with_context(rule)?;
    let (number, unit) = text.split_at(begins);
    let m_per_unit = match unit.trim() {
        "mm" => 1e-3,
        "cm" => 1e-2,
        "m" => 1.0,
        "in" => 0.0254,
        _ => bail!(rule()),
    };
    let number: f64 = number.trim().parse().with_context(rule)?;
    ensure!(number.is_finite() && number > 0.0, rule());
    Ok(Length::from_m(number * m_per_unit))
}

fn found(images: &[String], grid: &FlatGrid, terminal: &Terminal) -> anyhow::Result<Found> {
    let options = ChessboardOptions::of(grid.columns, grid.rows);
    let stop = stop_flag();
    let mut found = Found { views: Vec::new(), unused: Vec::new(), size_px: (0, 0) };
    for (n, name) in images.iter().enumerate() {
        let mut reader = filmgauge_footage::open(Path::new("."), name, &ReadOptions::default())?;
        while let Some(frame) = reader.next_frame()? {
            ensure!(!stop.load(Ordering::SeqCst), "stopped on request");
            let done = found.views.len() + found.unused.len();
            ensure!(
                done < MOST_PICTURES,
                "{name}: more than {MOST_PICTURES} pictures; give fewer, each with the board tilted differently"
            );
            terminal.progress(&Progress { step: name, done: n as u64, total: Some(images.len() as u64) });
            let name =
                if frame.number.0 == 0 { name.clone() } else { format!("{name} frame {}", frame.number) };
            found.add(name, &frame, &options)?;
        }
    }
    Ok(found)
}

impl Found {
    fn add(&mut self, name: String, frame: &Frame, options: &ChessboardOptions) -> anyhow::Result<()> {
        let view = frame.picture.view();
        let size_px = (u32::try_from(view.width())?, u32::try_from(view.height())?);
        if self.size_px == (0, 0) {
            self.size_px = size_px;
        }
        ensure!(
            self.size_px == size_px,
            "{name} is {} x {} px, the pictures before it are {} x {} px; give pictures of one camera and one setting",
            size_px.0,
            size_px.1,
            self.size_px.0,
            self.size_px.1
        );
        match find_chessboard(&view, options) {
            Ok(board) => {
                let corners = board.corners.iter().map(|corner| corner.at).collect();
                self.views.push(GridView { name, corners });
            }
            Err(why) => self.unused.push(Unused { name, reason: why.to_string() }),
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::pitch;

    #[test]
    fn a_pitch_needs_its_unit() {
        for (text, m) in [("25mm", 0.025), ("2.5 cm", 0.025), ("0.025m", 0.025), ("1in", 0.0254)] {
            assert!((pitch(text).unwrap().as_m() - m).abs() < 1e-15, "{text}");
        }
        for text in ["25", "mm", "25 furlongs", "-1mm", "nanmm", ""] {
            let said = pitch(text).unwrap_err().to_string();
            assert!(said.contains("25mm"), "{text}: {said}");
        }
    }
}
