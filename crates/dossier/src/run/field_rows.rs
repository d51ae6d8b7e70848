//! Rows of interlaced fields: a field holds every other row of the stored picture.

use filmgauge_footage::FieldOrder;
use filmgauge_quantities::{FrameNumber, PixelCov, PixelPoint};
use filmgauge_targets::{HandMark, Outcome};

/// Marks of a field in rows of the stored picture: a field holds every other row.
pub(super) fn in_stored_rows(track: Vec<Outcome>, order: FieldOrder) -> Vec<Outcome> {
    let stored = |(field, outcome): (u32, Outcome)| match (outcome, order.parity(FrameNumber(field))) {
        (Outcome::Mark(mut mark), Some(parity)) => {
            mark.centre.y = parity.frame_row(mark.centre.y);
            mark.cov = PixelCov { xx: mark.cov.xx, xy: 2.0 * mark.cov.xy, yy: 4.0 * mark.cov.yy };
            Outcome::Mark(mark)
        }
        (outcome, _) => outcome,
    };
    (0..).zip(track).map(stored).collect()
}

/// A place in a field, in rows of the stored picture.
pub(super) fn in_stored_row(place: PixelPoint, frame: FrameNumber, order: Option<FieldOrder>) -> PixelPoint {
    let parity = order.and_then(|order| order.parity(frame));
    parity.map_or(place, |parity| PixelPoint::new(place.x, parity.frame_row(place.y)))
}

/// A mark by hand, given in rows of the stored picture, in rows of its field.
pub(super) fn in_field_rows(mark: &HandMark, order: Option<FieldOrder>) -> HandMark {
    let Some(parity) = order.and_then(|order| order.parity(mark.frame)) else { return mark.clone() };
    let y = (mark.centre.y - parity.frame_row(0.0)) / 2.0;
    HandMark {
        centre: PixelPoint::new(mark.centre.x, y),
        u_px: [mark.u_px[0], mark.u_px[1] / 2.0],
        ..mark.clone()
    }
}
