//! What the sheet says of test, cameras and channels, and the notices that follow from them.

use super::budget::Budgeted;
use super::channels::Record;
use super::clock::ClockTroubles;
use super::evaluate::BodyState;
use super::film::Film;
use crate::document::{Axes, EventEntry, Role, Units};
use crate::load::Dossier;
use crate::plan::CameraPlan;
use filmgauge_footage::FaultKind;
use filmgauge_geometry::{SteadyEvidence, SteadyFilm};
use filmgauge_quantities::ViewPlane;
use filmgauge_results::{
    CameraSummary, ChannelSummary, CrosscheckResult, Notice, Severity, TestSummary, UnitSystem,
};
use filmgauge_targets::Outcome;

/// A ground that seems to move by more than this is a camera that moved, px.
const GROUND_STILL_PX: f64 = 0.1;
/// Share of frames that may fail the 99 % rigidity test before a person should look.
const UNRIGID_SHARE: f64 = 0.05;

/// Mean level of a black and of a saturated picture, as shares of full scale.
const BLACK_SHARE: f64 = 0.01;
const SATURATED_SHARE: f64 = 0.98;

pub(crate) fn test(dossier: &Dossier) -> TestSummary {
    let test = &dossier.document.test;
    TestSummary {
        id: test.id.clone(),
        title: test.title.clone(),
        axes: match test.axes {
            Axes::Iso8855 => "ISO 8855 (x forward, y left, z up)".into(),
            Axes::SaeJ1733 => "SAE J1733 (x forward, y right, z down)".into(),
        },
        units: match test.units {
            Units::Si => UnitSystem::Si,
            Units::Us => UnitSystem::Us,
        },
        comment: test.comment.clone(),
    }
}

/// What was set for one camera; `derivatives` tells how its curves were differentiated.
pub(crate) fn camera(camera: &Budgeted<'_>, derivatives: Vec<(String, String)>) -> CameraSummary {
    let (plan, film, motion) = (camera.inputs.camera, camera.inputs.film, &camera.motion);
    let line = |label: &str, text: String| (label.to_owned(), text);
    let mut lines = vec![
        line("Footage", plan.footage.clone()),
        line(
            "Frames",
            format!(
                "{} of {} x {} px, {} bit",
                film.n_frames, film.info.width, film.info.height, film.info.bits
            ),
        ),
        line("Film speed", motion.clock.speed_text.clone()),
        line("Exposure", format!("{:.3} ms; times are mid-exposure", plan.exposure_s * 1e3)),
        line(
            "Time zero",
            format!("{}, ± {:.3} ms", motion.clock.zero_method, 1.96e3 * motion.clock.zero_u_s),
        ),
    ];
    lines.extend(super::scale::lines(camera));
    if let Some(steadied) = camera.inputs.steadied {
        let told = steadied.steps.iter().flatten().count();
        let (reference, all) = (steadied.reference, steadied.steps.len());
        let model = steadied.model.word();
        let text = format!("against frame {reference}; {told} of {all} frames; {model}{}", weighed(steadied));
        lines.push(line("Steadied", text));
    }
    lines.extend(super::depth::told::line(&camera.inputs).map(|text| line("Depth", text)));
    if plan.shutter.row_s != 0.0 {
        let text =
            format!("{:.3} us a row; marks are carried to the time of row 0", plan.shutter.row_s * 1e6);
        lines.push(line("Rolling shutter", text));
    }
    if plan.fields.is_some() {
        lines.push(line(
            "Fields",
            "each field is a frame of its own; rows count in the stored picture".into(),
        ));
    }
    let coding_px = super::film::compression_u_px(plan, &film.info);
    lines.push(line(
        "Stored as",
        format!("{}; coding adds ± {:.3} px to a mark", film.info.codec, 1.96 * coding_px),
    ));
    lines.extend(derivatives);
    lines.push(line("Lens", plan.lens_file.clone().unwrap_or_else(|| "taken as free of distortion".into())));
    CameraSummary {
        id: plan.id.to_string(),
        view: match plan.view {
            ViewPlane::Side => "side".into(),
            ViewPlane::Overhead => "overhead".into(),
        },
        lines,
    }
}

pub(crate) fn channel((record, check): (&Record<'_>, &CrosscheckResult)) -> ChannelSummary {
    ChannelSummary {
        code: record.plan.code.clone(),
        body: record.plan.body.to_string(),
        steps: check.steps.clone(),
    }
}

/// An event that lies beyond the end of its film.
pub(crate) fn event_notice(event: &EventEntry, cameras: &[Budgeted<'_>]) -> Option<Notice> {
    let camera = cameras.iter().find(|camera| camera.inputs.camera.id.as_str() == event.camera)?;
    let n_frames = camera.inputs.film.n_frames;
    (event.frame as usize >= n_frames).then(|| Notice {
        severity: Severity::Person,
        place: format!("camera {}, event {}", event.camera, event.id),
        text: format!("frame {} lies beyond the end of the film, which has {n_frames} frames", event.frame),
        remedy: "Give a frame of the film, or take the event out".into(),
    })
}

/// What spoke for the model of the steps, by the Bayesian information criterion.
fn weighed(steadied: &SteadyFilm) -> String {
    let Some(best) = steadied.evidence.iter().find(|evidence| evidence.model == steadied.model) else {
        return String::new();
    };
    let others = steadied.evidence.iter().filter(|evidence| evidence.model != steadied.model);
    let behind = |other: &SteadyEvidence| format!("{} by {:.0}", other.model.word(), other.bic - best.bic);
    let others: Vec<String> = others.map(behind).collect();
    format!(" (least information criterion; behind it {})", others.join(", "))
}

/// Trouble with steadying.
pub(crate) fn steady_notice(
    camera: &CameraPlan,
    steadied: Option<&Result<SteadyFilm, String>>,
) -> Option<Notice> {
    let place = format!("camera {}", camera.id);
    match steadied? {
        Err(why) => Some(Notice {
            severity: Severity::Person,
            place,
            text: format!("the film could not be steadied: {why}"),
            remedy: "Check the boxes of the perforations, or the ground targets, or take steady out".into(),
        }),
        Ok(steadied) => {
            let lost = steadied.steps.iter().filter(|step| step.is_none()).count();
            (lost > 0).then(|| Notice {
                severity: Severity::Warning,
                place,
                text: format!(
                    "{lost} of {} frames could not be steadied; they are not used",
                    steadied.steps.len()
                ),
                remedy: "steady.csv gives the reason for each".into(),
            })
        }
    }
}

/// Trouble with a channel's file.
pub(crate) fn channel_notice(record: &Record<'_>) -> Option<Notice> {
    let reason = record.channel.as_ref().err()?;
    Some(Notice {
        severity: Severity::Person,
        place: format!("channel {}", record.plan.code),
        text: reason.clone(),
        remedy: "Mend the file or take the channel out of the dossier".into(),
    })
}

/// Everything about one camera that a person should know.
pub(crate) fn camera_notices(camera: &Budgeted<'_>, clock: &ClockTroubles) -> Vec<Notice> {
    let plan = camera.inputs.camera;
    let place = format!("camera {}", plan.id);
    let mut notices = film_notices(plan, camera.inputs.film);
    if let Some(fault) = &clock.speed {
        notices.push(Notice {
            severity: Severity::Person,
            place: place.clone(),
            text: format!("the timing marks cannot be used: {fault}; the film speed is the record's"),
            remedy: "Mend the marks' region or frequency, or take them out of the dossier".into(),
        });
    }
    notices.extend(super::depth::told::notice(camera));
    notices.extend(clock.notes.iter().map(|note| Notice {
        severity: Severity::Warning,
        place: format!("{place}, film speed"),
        text: note.clone(),
        remedy: "Look at the timing marks in the frames named".into(),
    }));
    if let Some(fault) = &clock.zero {
        notices.push(Notice {
            severity: Severity::Person,
            place: place.clone(),
            text: format!("{fault}; times count from frame 0"),
            remedy: "Give the time zero as a frame: zero = { by = \"frame\", frame = … }".into(),
        });
    }
    for (subject, why) in &camera.motion.troubles {
        notices.push(Notice {
            severity: Severity::Person,
            place: format!("{place}, {subject}"),
            text: why.clone(),
            remedy: "Check the targets of this body in the dossier".into(),
        });
    }
    let unrigid = camera.motion.bodies.iter().filter(|body| body.unrigid_share > UNRIGID_SHARE);
    for body in unrigid {
        let (severity, remedy) = match plan.view {
            ViewPlane::Side => (
                Severity::Warning,
                "Look whether a target sits on a deforming part, and make it a crush target",
            ),
            ViewPlane::Overhead => {
                (Severity::Note, "To be expected from above once the body pitches or climbs")
            }
        };
        notices.push(Notice {
            severity,
            place: format!("{place}, {}", body.id),
            text: format!(
                "the targets move against each other in {:.0} % of the frames, more than their doubt allows",
                100.0 * body.unrigid_share
            ),
            remedy: remedy.into(),
        });
    }
    notices.extend(camera.motion.bodies.iter().flat_map(|body| left_out_notices(body, &place)));
    notices.extend(super::scale::notices(camera));
    notices.extend(ground_notice(camera, &place));
    notices
}

/// Targets that were taken to deform.
fn left_out_notices<'a>(body: &'a BodyState, place: &'a str) -> impl Iterator<Item = Notice> + 'a {
    body.left_out.iter().map(move |target| Notice {
        severity: Severity::Warning,
        place: format!("{place}, {}", body.id),
        text: format!(
            "{target} moves against the body's other targets after contact: it is left out of the body's pose"
        ),
        remedy: "Look whether it sits on a deforming part; then make it a crush target".into(),
    })
}

fn film_notices(plan: &CameraPlan, film: &Film) -> Vec<Notice> {
    let mut notices: Vec<Notice> = film
        .faults
        .iter()
        .map(|fault| Notice {
            severity: match fault.kind {
                FaultKind::LostData | FaultKind::EndsEarly => Severity::Person,
                FaultKind::UnevenSpacing | FaultKind::NoStamps | FaultKind::DeclaredCount => Severity::Note,
                _ => Severity::Warning,
            },
            place: match fault.frame {
                Some(frame) => format!("camera {}, frame {frame}", plan.id),
                None => format!("camera {}", plan.id),
            },
            text: fault.text.clone(),
            remedy: fault.kind.remedy().into(),
        })
        .collect();
    notices.extend(blank_notices(plan, film));
    for (target, outcomes) in plan.targets.iter().zip(&film.outcomes) {
        let marks = outcomes.iter().filter(|outcome| outcome.measured().is_some()).count();
        if marks == 0 {
            let why = outcomes.iter().find_map(|outcome| match outcome {
                Outcome::Gap { why, .. } if !why.is_empty() => Some(why.clone()),
                _ => None,
            });
            notices.push(Notice {
                severity: Severity::Person,
                place: format!("camera {}, target {}", plan.id, target.id),
                text: format!("never found: {}", why.unwrap_or_else(|| "no frame shows it".into())),
                remedy: "Correct its start frame, place and radius in the dossier".into(),
            });
        }
    }
    notices
}

/// Runs of frames that are black or saturated as a whole.
fn blank_notices(plan: &CameraPlan, film: &Film) -> Vec<Notice> {
    let full = f64::from((1_u32 << film.info.bits) - 1);
    let what = |level: f64| match level / full {
        share if share < BLACK_SHARE => Some("black"),
        share if share > SATURATED_SHARE => Some("saturated all over"),
        _ => None,
    };
    let mut runs: Vec<(usize, usize, &str)> = Vec::new();
    for (frame, level) in film.mean_levels.iter().enumerate() {
        let Some(what) = what(*level) else { continue };
        match runs.last_mut() {
            Some((_, last, same)) if *last + 1 == frame && *same == what => *last = frame,
            _ => runs.push((frame, frame, what)),
        }
    }
    let notice = |(first, last, what): (usize, usize, &str)| Notice {
        severity: Severity::Warning,
        place: format!("camera {}, frames {first} to {last}", plan.id),
        text: format!("the picture is {what}; no target can be seen in it"),
        remedy: "Look whether the film really shows the test there, and leave these frames out if not".into(),
    };
    runs.into_iter().map(notice).collect()
}

/// Fixed targets must stand still; when they do not, the camera moved and every figure carries it.
fn ground_notice(camera: &Budgeted<'_>, place: &str) -> Option<Notice> {
    let ground = camera.motion.with_role(Role::Ground)?;
    let rest = ground.motion.x.states.first().zip(ground.motion.z.states.first())?;
    let moved_m = ground
        .motion
        .x
        .states
        .iter()
        .zip(&ground.motion.z.states)
        .map(|(x, z)| (x[0] - rest.0[0]).hypot(z[0] - rest.1[0]));
    let moved_px = moved_m.fold(0.0, f64::max) / camera.motion.map.metres_per_px();
    (moved_px > GROUND_STILL_PX).then(|| Notice {
        severity: Severity::Warning,
        place: place.to_owned(),
        text: format!("the fixed targets move by up to {moved_px:.2} px: the camera was not still"),
        remedy: "Treat figures smaller than this movement with care".into(),
    })
}
