//! Placing by hand: points in the picture become a board, a target, a mark or a region.

use super::editing::edit;
use super::{calibrating, surveying};
use crate::edits::{append, inline, place, set, thousandths};
use crate::session::{Fitted, Placing, Purpose, Session, Taken};
use eframe::egui::Context;
use filmgauge_daybook::{Edit, Pick, Value};
use filmgauge_dossier::coding_u_px;
use filmgauge_dossier::document::{READING_U_PX, ZeroEntry};
use filmgauge_quantities::{PixelPoint, TargetKind};
use filmgauge_targets::{LocateOptions, TargetHint, locate_target};

/// How far from the point the centre of what is painted is sought, px.
const SEARCH_PX: f64 = 4.0;

pub(super) fn begin(session: &mut Session, purpose: Purpose) -> Option<String> {
    let camera = session.camera()?;
    let why_not = match purpose {
        Purpose::Board if camera.board.is_none() && session.view.board_m.contains(&None) => {
            Some("Give the board's length and its uncertainty first, in the line of the board.")
        }
        Purpose::Board if camera.plane.is_some() || camera.pose.is_some() => {
            Some("The scale rests on surveyed points. Take them out first to use a board.")
        }
        Purpose::Target if session.body().is_none() => Some("Add a body first: every target belongs to one."),
        Purpose::Mark if session.chosen().is_none() => {
            Some("Choose the target first that the mark belongs to.")
        }
        Purpose::TimingMarks if camera.speed.is_none() => {
            Some("Give the film speed of the camera record first.")
        }
        Purpose::TimingMarks if session.lamp_hz().is_none() => {
            Some("Give the marks a second first, in the line of the film speed.")
        }
        _ => None,
    };
    if let Some(text) = why_not {
        return Some(text.to_owned());
    }
    session.view.playing = None;
    session.view.placing = Some(Placing::new(purpose));
    // A mark begins where its target is, or was last.
    if purpose == Purpose::Mark
        && let Some(chosen) = session.view.target.clone()
    {
        let frame = session.frame();
        let here =
            session.place_of(&chosen.camera, &chosen.target, frame).or_else(|| session.last_place(frame));
        if let Some(px) = here {
            point(session, px);
        }
    }
    None
}

/// The point in hand; what is painted there is fitted at once.
pub(super) fn point(session: &mut Session, px: [f64; 2]) -> Option<String> {
    let purpose = session.view.placing.as_ref()?.purpose;
    let fitted = if purpose.is_fitted() { fit(session, px) } else { None };
    let placing = session.view.placing.as_mut()?;
    placing.point = Some(px);
    placing.fitted = fitted;
    None
}

/// Moves the point from where it would be taken, and takes it as pointed from then on.
pub(super) fn nudge(session: &mut Session, x: f64, y: f64) -> Option<String> {
    let placing = session.view.placing.as_mut()?;
    let [px, py] = placing.taken()?.px;
    placing.as_pointed = true;
    point(session, [px + x, py + y])
}

pub(super) fn settle(session: &mut Session) -> Option<String> {
    let placing = session.view.placing.as_mut()?;
    placing.as_pointed = !placing.as_pointed;
    None
}

pub(super) fn give_up(session: &mut Session) -> Option<String> {
    session.view.placing.take().map(|_| "Nothing was placed.".to_owned())
}

pub(super) fn accept(session: &mut Session, ctx: &Context) -> Option<String> {
    let placing = session.view.placing.as_mut()?;
    let taken = placing.taken()?;
    if placing.settled.len() + 1 < placing.purpose.n_points() {
        placing.settled.push(taken);
        (placing.point, placing.fitted) = (None, None);
        return Some("Now the other one.".to_owned());
    }
    let placing = session.view.placing.take()?;
    if placing.purpose == Purpose::StraightEdge {
        // Edges are no part of the dossier until a lens is calibrated from them.
        return calibrating::straight_edge(session, [placing.settled.first()?.px, taken.px]);
    }
    let (act, edits) = match (placing.purpose, placing.settled.first()) {
        (Purpose::Board, Some(first)) => board(session, [*first, taken])?,
        (Purpose::Flash, Some(first)) => flash(session, region(first.px, taken.px))?,
        (Purpose::TimingMarks, Some(first)) => timing_marks(session, region(first.px, taken.px))?,
        (Purpose::Mark, _) => mark(session, &placing, taken.px)?,
        (Purpose::SurveyPoint, _) => surveying::point(session, taken.px)?,
        (Purpose::KnownLength, Some(first)) => surveying::length(session, [*first, taken])?,
        _ => target(session, taken.px)?,
    };
    edit(session, ctx, &act, &edits)
}

/// The centre of what is painted under a point, or why there is none.
fn fit(session: &Session, px: [f64; 2]) -> Option<Result<Fitted, String>> {
    let reel = session.reel()?;
    let frame = reel.at(session.frame())?;
    let chosen = session
        .chosen()
        .filter(|_| session.view.placing.as_ref().is_some_and(|placing| placing.purpose == Purpose::Mark));
    let (kind, radius_px) = chosen
        .map_or((session.view.kind, session.view.radius_px), |(_, target)| (target.kind, target.radius_px));
    if kind == TargetKind::Patch {
        return Some(Err("natural texture has no centre to be fitted".into()));
    }
    let picture_u_px = coding_u_px(session.camera()?.compression_u_px, reel.codec());
    let options = LocateOptions { search_px: SEARCH_PX, picture_u_px, ..LocateOptions::default() };
    let near = PixelPoint::new(px[0], px[1]);
    let located = locate_target(&frame.picture.view(), near, &TargetHint::new(kind, radius_px), &options);
    Some(match located {
        Ok(located) => Ok(Fitted { centre: [located.centre.x, located.centre.y], cov: located.cov }),
        Err(failure) => Err(failure.to_string()),
    })
}

/// Least standard uncertainty of an end that was fitted, px: what is painted there need not be the board's very end.
const LEAST_END_U_PX: f64 = 0.02;

/// The doubt of both ends, px: that of the fit, rounded up to hundredths, where both were fitted; else that of the eye.
pub(super) fn ends_u_px([a, b]: [Taken; 2]) -> f64 {
    let (Some(a), Some(b)) = (a.u_px, b.u_px) else { return READING_U_PX };
    ((100.0 * a.max(b)).ceil() / 100.0).max(LEAST_END_U_PX)
}

fn board(session: &Session, ends: [Taken; 2]) -> Option<(String, Vec<Edit>)> {
    let (index, camera) = (session.view.camera, session.camera()?);
    let act = format!("board of {}", camera.id);
    let [from, to] = ends.map(|end| place(end.px));
    let frame = i64::from(session.frame());
    let mut values = vec![("from_px", from), ("to_px", to), ("uncertainty_px", ends_u_px(ends).into())];
    if frame != camera.board.as_ref().map_or(0, |board| i64::from(board.frame)) {
        values.push(("frame", frame.into()));
    }
    if camera.board.is_some() {
        let edit = |(key, value): (&str, Value)| set("camera", index, &format!("board.{key}"), value);
        return Some((act, values.into_iter().map(edit).collect()));
    }
    let [length_m, uncertainty_m] = session.view.board_m;
    values.extend([("length_m", length_m?.into()), ("uncertainty_m", uncertainty_m?.into())]);
    Some((act, vec![set("camera", index, "board", inline(values))]))
}

/// Left, top, width and height between two corners.
fn region(a: [f64; 2], b: [f64; 2]) -> Value {
    let low = [0, 1].map(|n| a[n].min(b[n]).round().max(0.0) as i64);
    let high = [0, 1].map(|n| a[n].max(b[n]).round().max(0.0) as i64);
    [low[0], low[1], high[0] - low[0] + 1, high[1] - low[1] + 1].into_iter().collect()
}

/// The region of the flash; what else is known of it stays.
fn flash(session: &Session, region: Value) -> Option<(String, Vec<Edit>)> {
    let (index, camera) = (session.view.camera, session.camera()?);
    let edit = match &camera.zero {
        Some(ZeroEntry::Flash { .. }) => set("camera", index, "zero.region_px", region),
        _ => set("camera", index, "zero", inline(vec![("by", "flash".into()), ("region_px", region)])),
    };
    Some((format!("region of the flash of {}", camera.id), vec![edit]))
}

/// The region of the timing marks; their frequency is the one that was given.
fn timing_marks(session: &Session, region: Value) -> Option<(String, Vec<Edit>)> {
    let (index, camera) = (session.view.camera, session.camera()?);
    let known = camera.speed.as_ref().is_some_and(|speed| speed.marks.is_some());
    let edit = if known {
        set("camera", index, "speed.marks.region_px", region)
    } else {
        let hz = session.lamp_hz()?;
        let table = vec![("kind", "lamp".into()), ("region_px", region), ("frequency_hz", hz.into())];
        set("camera", index, "speed.marks", inline(table))
    };
    Some((format!("region of the timing marks of {}", camera.id), vec![edit]))
}

fn mark(session: &Session, placing: &Placing, taken: [f64; 2]) -> Option<(String, Vec<Edit>)> {
    let chosen = session.view.target.clone()?;
    let frame = session.frame();
    let fitted =
        placing.fitted.as_ref().and_then(|fitted| fitted.as_ref().ok()).filter(|_| !placing.as_pointed);
    let u = |variance: f64| thousandths(variance.sqrt()).max(0.001);
    let pick = Pick {
        frame,
        target: chosen.target.clone(),
        x_px: thousandths(taken[0]),
        y_px: thousandths(taken[1]),
        sx_px: fitted.map(|fitted| u(fitted.cov.xx)),
        sy_px: fitted.map(|fitted| u(fitted.cov.yy)),
        operator: Some(session.workbook.who().to_owned()),
    };
    let act = format!("mark of {} in frame {frame}", chosen.target);
    Some((act, vec![Edit::PutPick { camera: chosen.camera, pick }]))
}

fn target(session: &mut Session, taken: [f64; 2]) -> Option<(String, Vec<Edit>)> {
    let (kind, radius_px) = (session.view.kind, session.view.radius_px);
    let it = NewTarget { kind, centre: taken, radius_px, id: None };
    let (id, edit) = new_target(session, &it, &[])?;
    session.view.target =
        Some(crate::session::TargetRef { camera: session.camera_id().to_owned(), target: id.clone() });
    Some((format!("target {id}"), vec![edit]))
}

/// A target that is to be made.
pub(super) struct NewTarget<'a> {
    /// Kind.
    pub(super) kind: TargetKind,
    /// Place in the frame that is looked at, px.
    pub(super) centre: [f64; 2],
    /// Radius, px.
    pub(super) radius_px: f64,
    /// Which surveyed target it seems to be.
    pub(super) id: Option<&'a str>,
}

/// The edit that makes it; named as the layout says where that name is free, else by its body's initial and a number.
pub(super) fn new_target(session: &Session, it: &NewTarget<'_>, taken: &[String]) -> Option<(String, Edit)> {
    let body = session.body()?;
    let camera = session.camera_id();
    let initial = body.chars().find(char::is_ascii_alphabetic).unwrap_or('t').to_ascii_uppercase();
    let is_free =
        |id: &String| !taken.contains(id) && session.document().target.iter().all(|target| target.id != *id);
    let numbered = (1..).map(|n: u32| format!("{initial}{n}"));
    let id = it.id.map(str::to_owned).into_iter().chain(numbered).find(is_free)?;
    let start = inline(vec![("frame", i64::from(session.frame()).into()), ("px", place(it.centre))]);
    let (offset_m, u_m) = session.view.offset_m;
    let mut values = vec![
        ("camera", camera.into()),
        ("id", id.as_str().into()),
        ("kind", it.kind.word().into()),
        ("body", body.into()),
        ("start", start),
        ("radius_px", thousandths(it.radius_px).into()),
    ];
    if let Some(offset_m) = offset_m {
        values.push(("plane_offset_m", offset_m.into()));
        values.push(("plane_offset_uncertainty_m", u_m.into()));
    }
    Some((id, append("target", values)))
}
