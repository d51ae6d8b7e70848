//! Numbers of timing marks: which mark is missing, doubled or out of place, by their spacing along the film.

use crate::TimingNote;
use crate::levels::median;

/// A distance is compared with the median of this many to each side.
const NEIGHBOURS: usize = 3;
/// A distance within this share of a whole multiple of the usual one is that multiple.
const WHOLE_WITHIN: f64 = 0.25;
/// Marks nearer than this share of the usual distance are one mark seen twice.
const DOUBLED_BELOW: f64 = 0.5;

/// Marks kept, with their numbers.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Numbered {
    /// Place in the list given.
    pub(crate) kept: Vec<usize>,
    /// Number of each mark kept; the first is 0.
    pub(crate) numbers: Vec<f64>,
    /// Frames from mark to mark about each mark kept.
    pub(crate) spacings: Vec<f64>,
    pub(crate) notes: Vec<TimingNote>,
}

/// Numbers marks at growing frame coordinates; at least two.
pub(crate) fn number(frames: &[f64]) -> Numbered {
    let mut kept: Vec<usize> = (0..frames.len()).collect();
    let mut notes = Vec::new();
    while let Some(place) = doubled(frames, &kept) {
        notes.push(TimingNote::MarkDoubled { frame: frames[kept.remove(place)] });
    }
    while let Some(place) = out_of_place(frames, &kept) {
        notes.push(TimingNote::MarkOutOfPlace { frame: frames[kept.remove(place)] });
    }
    let distances = distances(frames, &kept);
    let usual = usual(&distances);
    let mut numbers = vec![0.0];
    let mut number = 0.0;
    for (place, (distance, usual)) in distances.iter().zip(&usual).enumerate() {
        let ratio = distance / usual;
        let steps = ratio.round().max(1.0);
        let after_frame = frames[kept[place]];
        if (ratio - steps).abs() > WHOLE_WITHIN {
            notes.push(TimingNote::NumberingDoubtful { after_frame, ratio });
        }
        if steps > 1.0 {
            notes.push(TimingNote::MarksSkipped { after_frame, missing: missing(steps) });
        }
        number += steps;
        numbers.push(number);
    }
    let spacings = (0..kept.len()).map(|place| usual[place.min(usual.len() - 1)]).collect();
    Numbered { kept, numbers, spacings, notes }
}

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a whole number above 1")]
fn missing(steps: f64) -> usize {
    steps as usize - 1
}

fn distances(frames: &[f64], kept: &[usize]) -> Vec<f64> {
    kept.windows(2).map(|pair| frames[pair[1]] - frames[pair[0]]).collect()
}

/// Usual distance about each distance: the median of its neighbours, then again with multiples divided out.
fn usual(distances: &[f64]) -> Vec<f64> {
    let about = |values: &[f64], place: usize| {
        let first = place.saturating_sub(NEIGHBOURS);
        let end = (place + NEIGHBOURS + 1).min(values.len());
        median(&values[first..end]).unwrap_or(values[place])
    };
    let rough: Vec<f64> = (0..distances.len()).map(|place| about(distances, place)).collect();
    let divided: Vec<f64> = distances
        .iter()
        .zip(&rough)
        .map(|(distance, usual)| distance / (distance / usual).round().max(1.0))
        .collect();
    (0..divided.len()).map(|place| about(&divided, place)).collect()
}

/// The mark of the closest pair of doubled ones whose loss leaves the more even distances.
fn doubled(frames: &[f64], kept: &[usize]) -> Option<usize> {
    let distances = distances(frames, kept);
    if distances.len() < 3 {
        return None;
    }
    let usual = usual(&distances);
    let ratio = |place: usize| distances[place] / usual[place];
    let pair = (0..distances.len())
        .filter(|&place| ratio(place) < DOUBLED_BELOW)
        .min_by(|&a, &b| ratio(a).total_cmp(&ratio(b)))?;
    let unevenness = |place: usize| {
        let shorter: Vec<usize> =
            kept.iter().enumerate().filter(|&(at, _)| at != place).map(|(_, &k)| k).collect();
        let left = self::distances(frames, &shorter);
        let usual = self::usual(&left);
        left.iter().zip(&usual).map(|(distance, usual)| off_whole(distance / usual).powi(2)).sum::<f64>()
    };
    Some(if unevenness(pair) < unevenness(pair + 1) { pair } else { pair + 1 })
}

fn off_whole(ratio: f64) -> f64 {
    (ratio - ratio.round().max(1.0)).abs()
}

/// A mark whose distances to both neighbours are no whole multiples, while the distance between them is one.
fn out_of_place(frames: &[f64], kept: &[usize]) -> Option<usize> {
    let distances = distances(frames, kept);
    if distances.len() < 4 {
        return None;
    }
    let usual = usual(&distances);
    (1..distances.len()).find(|&place| {
        let (before, after) = (distances[place - 1] / usual[place - 1], distances[place] / usual[place]);
        off_whole(before) > WHOLE_WITHIN
            && off_whole(after) > WHOLE_WITHIN
            && off_whole(before + after) <= WHOLE_WITHIN
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn numbers(frames: &[f64]) -> Vec<f64> {
        number(frames).numbers
    }

    #[test]
    fn skipped_marks_are_counted() {
        assert_eq!(numbers(&[0.0, 10.0, 20.1, 50.0, 60.0]), [0.0, 1.0, 2.0, 5.0, 6.0]);
        let notes = number(&[0.0, 10.0, 20.1, 50.0, 60.0]).notes;
        assert_eq!(notes, [TimingNote::MarksSkipped { after_frame: 20.1, missing: 2 }]);
    }

    #[test]
    fn doubled_and_stray_marks_are_left_out() {
        let doubled = number(&[0.0, 10.0, 20.0, 22.0, 30.0, 40.0]);
        assert_eq!(doubled.kept, [0, 1, 2, 4, 5]);
        assert_eq!(doubled.notes, [TimingNote::MarkDoubled { frame: 22.0 }]);
        let stray = number(&[0.0, 10.0, 20.0, 33.0, 40.0, 50.0, 60.0]);
        assert_eq!(stray.numbers, [0.0, 1.0, 2.0, 4.0, 5.0, 6.0]);
        assert!(stray.notes.contains(&TimingNote::MarkOutOfPlace { frame: 33.0 }));
    }

    #[test]
    fn an_accelerating_film_loses_no_number() {
        let mut frames = vec![0.0];
        let mut distance = 4.0;
        for _ in 0..60 {
            frames.push(frames[frames.len() - 1] + distance);
            distance *= 1.03;
        }
        let numbered = number(&frames);
        assert_eq!(numbered.numbers.last(), Some(&60.0));
        assert!(numbered.notes.is_empty(), "{:?}", numbered.notes);
    }

    #[test]
    fn odd_distances_are_doubted() {
        let notes = number(&[0.0, 10.0, 20.0, 30.0, 45.0, 55.0, 65.0, 75.0]).notes;
        assert!(notes.iter().any(|note| matches!(note, TimingNote::NumberingDoubtful { .. })));
    }
}
