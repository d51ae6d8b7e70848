//! Where the following of each target starts, and the starts that cannot be right.

use crate::error::DossierError;
use crate::lines::Step::{Item, Key};
use crate::load::Dossier;
use crate::plan::{CameraPlan, TargetPlan};
use filmgauge_footage::FootageInfo;
use filmgauge_quantities::PixelPoint;
use filmgauge_targets::TargetStart;

/// The starts of a camera's targets as its follower takes them.
pub(super) fn starts(camera: &CameraPlan) -> Vec<TargetStart> {
    // In a field a target is half as high, and its rows count half.
    let squeeze = if camera.fields.is_some() { 0.5 } else { 1.0 };
    let start = |target: &TargetPlan| TargetStart {
        id: target.id.clone(),
        body: Some(target.body.clone()),
        kind: target.kind,
        start_frame: target.start_frame,
        start: PixelPoint::new(target.start.x, target.start.y * squeeze),
        radius_px: target.radius_px * squeeze,
        deforms: target.deforms,
    };
    camera.targets.iter().map(start).collect()
}

/// A start outside the picture is the analyst's to mend.
pub(super) fn check_starts(
    dossier: &Dossier,
    camera: &CameraPlan,
    info: &FootageInfo,
) -> Result<(), DossierError> {
    let rows = if camera.fields.is_some() { 2 * info.height } else { info.height };
    #[expect(clippy::cast_precision_loss, reason = "picture sizes are far below 2^53")]
    let (right, bottom) = (info.width as f64 - 0.5, rows as f64 - 0.5);
    for target in &camera.targets {
        let place = target.start;
        if place.x > right || place.y > bottom {
            let path = [Key("target"), Item(target.index), Key("start"), Key("px")];
            let what = format!(
                "target {} of camera {} starts at ({}, {}) px, outside the picture of {} x {} px",
                target.id, camera.id, place.x, place.y, info.width, info.height
            );
            return Err(dossier.fault(&path, what, "Give a place inside the picture".into()));
        }
    }
    Ok(())
}
