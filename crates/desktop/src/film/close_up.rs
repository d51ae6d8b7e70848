//! The close-up beside the film: the pixels about the point in hand, never smoothed, with what is fitted there.

use super::Screen;
use super::fit::{Fit, OnScreen};
use super::overlays::{cov_of, ellipse};
use super::picture::{Levels, coloured};
use crate::command::{Command, Commands};
use crate::look::{CHOSEN, INK, Pen};
use crate::session::{Placing, Purpose, Session};
use eframe::egui::{
    self, Color32, Rect, Role, Sense, TextureHandle, TextureOptions, Ui, WidgetInfo, pos2, vec2,
};
use filmgauge_footage::Frame;
use filmgauge_quantities::{COVERAGE_95, PixelCov};
use std::sync::Arc;

/// Half the side of the part that is shown, in radii of the target and at least, px.
const HALF_SIDE_RADII: f64 = 1.6;
const LEAST_HALF_SIDE_PX: f64 = 12.0;
/// Least and greatest side on the screen, points.
const LEAST_SIDE: f32 = 80.0;
const MOST_SIDE: f32 = 420.0;
/// Ellipses are drawn this much larger than they are: true ones are smaller than a pixel.
pub(crate) const ELLIPSE_SCALE: f64 = 10.0;

/// Its texture, and what it was made of.
#[derive(Default)]
pub(crate) struct CloseUp {
    made_of: Option<(Arc<Frame>, [usize; 4], Levels)>,
    texture: Option<TextureHandle>,
}

/// Shows the close-up and what belongs to it.
pub(crate) fn show(ui: &mut Ui, session: &Session, screen: &mut Screen, commands: &mut Commands) {
    let side = ui.available_width().clamp(LEAST_SIDE, MOST_SIDE);
    let (rect, response) = ui.allocate_exact_size(vec2(side, side), Sense::click());
    let words = format!("Close-up: {}", said(session));
    response.widget_info(|| WidgetInfo::labeled(Role::Image, true, &words));
    let painter = ui.painter_at(rect);
    painter.rect_filled(rect, 0.0, Color32::from_gray(24));
    if let Some((centre, half)) = looked_at(session)
        && let Some(frame) = session.reel().and_then(|reel| reel.at(session.frame()))
    {
        let levels = Levels { brightness: session.view.brightness, contrast: session.view.contrast };
        let on = screen.close_up.paint(ui.ctx(), &painter, (frame, levels), centre, half);
        draw(session, &painter, &on);
        if response.clicked()
            && session.view.placing.is_some()
            && let Some(at) = response.interact_pointer_pos()
        {
            commands.push(Command::Point(on.px_from_screen(at)));
        }
    }
    ui.add(egui::Label::new(said(session)).wrap());
    if let Some(placing) = &session.view.placing {
        buttons(ui, placing, commands);
    } else if session.view.target.is_some() && ui.button("Mark by hand here").clicked() {
        commands.push(Command::Place(Purpose::Mark));
    }
}

impl CloseUp {
    /// Paints the part of the frame about `centre`.
    fn paint(
        &mut self,
        ctx: &egui::Context,
        painter: &egui::Painter,
        (frame, levels): (&Arc<Frame>, Levels),
        centre: [f64; 2],
        half: f64,
    ) -> OnScreen {
        let view = frame.picture.view();
        let rect = painter.clip_rect();
        let zoom = rect.width() / (2.0 * half) as f32;
        let on = Fit::default().on_screen([1, 1], rect).centred_on(centre, 1.0).on_screen([1, 1], rect);
        let on = on.centred_on(centre, zoom / on.zoom).on_screen([1, 1], rect);
        let bound = |at: f64, most: usize| at.floor().clamp(0.0, most as f64) as usize;
        let [x0, x1] = [centre[0] - half - 1.0, centre[0] + half + 2.0].map(|x| bound(x, view.width()));
        let [y0, y1] = [centre[1] - half - 1.0, centre[1] + half + 2.0].map(|y| bound(y, view.height()));
        if x1 <= x0 || y1 <= y0 {
            return on;
        }
        let part = [x0, y0, x1 - x0, y1 - y0];
        let same = |(made, of, with): &(Arc<Frame>, [usize; 4], Levels)| {
            Arc::ptr_eq(made, frame) && *of == part && *with == levels
        };
        if !self.made_of.as_ref().is_some_and(same) {
            let image = coloured(&view, levels, part);
            match &mut self.texture {
                Some(texture) => texture.set(image, TextureOptions::NEAREST),
                None => self.texture = Some(ctx.load_texture("close-up", image, TextureOptions::NEAREST)),
            }
            self.made_of = Some((Arc::clone(frame), part, levels));
        }
        if let Some(texture) = &self.texture {
            let place = on.rect_of([x0 as f64, y0 as f64, x1 as f64, y1 as f64]);
            let uv = Rect::from_min_max(pos2(0.0, 0.0), pos2(1.0, 1.0));
            painter.image(texture.id(), place, uv, Color32::WHITE);
        }
        on
    }
}

/// Middle of the close-up and half its side, px.
fn looked_at(session: &Session) -> Option<([f64; 2], f64)> {
    let half = |radius_px: f64| (HALF_SIDE_RADII * radius_px).max(LEAST_HALF_SIDE_PX);
    let radius_px = session.chosen().map_or(0.0, |(_, target)| target.radius_px);
    let in_hand = session.view.placing.as_ref().and_then(Placing::taken);
    if let Some(point) = in_hand {
        return Some((point.px, half(radius_px)));
    }
    let chosen = session.view.target.as_ref().filter(|chosen| chosen.camera == session.camera_id())?;
    let frame = session.frame();
    let place =
        session.place_of(&chosen.camera, &chosen.target, frame).or_else(|| session.last_place(frame))?;
    Some((place, half(radius_px)))
}

fn draw(session: &Session, painter: &egui::Painter, on: &OnScreen) {
    let arm = painter.clip_rect().width() / 2.0;
    let cross = |ink: Color32, place: [f64; 2], cov: Option<PixelCov>| {
        let pen = Pen::new(painter, ink).wide(1.0);
        pen.hair_cross(on.screen_from_px(place), arm);
        if let Some(cov) = cov {
            let points = ellipse(place, cov, ELLIPSE_SCALE).into_iter().map(|point| on.screen_from_px(point));
            pen.loop_line(points.collect());
        }
    };
    match &session.view.placing {
        Some(placing) => {
            if let Some(Ok(fitted)) = &placing.fitted {
                cross(INK, fitted.centre, Some(fitted.cov));
            }
            if let Some(point) = placing.point {
                Pen::new(painter, CHOSEN).hair_cross(on.screen_from_px(point), arm / 6.0);
            }
        }
        None => {
            let Some(chosen) = &session.view.target else { return };
            let frame = session.frame();
            if let Some(mark) = session.mark(&chosen.camera, &chosen.target, frame) {
                cross(INK, [mark.x_px, mark.y_px], Some(cov_of(mark)));
            }
            if let Some(pick) = session.pick(&chosen.camera, &chosen.target, frame) {
                let pen = Pen::new(painter, CHOSEN);
                pen.lozenge(on.screen_from_px([pick.x_px, pick.y_px]), arm / 6.0);
            }
        }
    }
}

/// What is in hand or chosen, in words.
fn said(session: &Session) -> String {
    if let Some(placing) = &session.view.placing {
        return in_hand(placing);
    }
    let Some(chosen) = session.view.target.as_ref() else {
        return "press a target in the film to look at it closely".to_owned();
    };
    let (camera, target, frame) = (&chosen.camera, &chosen.target, session.frame());
    if let Some(pick) = session.pick(camera, target, frame) {
        let who = pick.operator.as_deref().map_or_else(String::new, |who| format!(", by {who}"));
        return format!("{target} at x {:.2}, y {:.2} px, placed by hand{who}", pick.x_px, pick.y_px);
    }
    if let Some(mark) = session.mark(camera, target, frame) {
        let why = if mark.reason.is_empty() { String::new() } else { format!(" ({})", mark.reason) };
        return format!(
            "{target} at x {:.3} ± {:.3}, y {:.3} ± {:.3} px, {}, trust {:.2}{why}",
            mark.x_px,
            COVERAGE_95 * mark.sx_px,
            mark.y_px,
            COVERAGE_95 * mark.sy_px,
            mark.state,
            mark.trust
        );
    }
    match session.measured.as_ref().and_then(|measured| measured.gap_at(camera, target, frame)) {
        Some(gap) => {
            format!("{target}: gap, {}, frames {} to {}", gap.cause, gap.first_frame, gap.last_frame)
        }
        None => format!("{target}: no mark in this frame"),
    }
}

fn in_hand(placing: &Placing) -> String {
    let what = match (placing.purpose, placing.settled.len()) {
        (Purpose::Board, 0) => "first end of the board",
        (Purpose::Board, _) => "second end of the board, towards the struck vehicle",
        (Purpose::Target, _) => "new target",
        (Purpose::SurveyPoint, _) => "surveyed point",
        (Purpose::KnownLength, 0) => "first end of the length",
        (Purpose::KnownLength, _) => "second end of the length",
        (Purpose::StraightEdge, 0) => "first end of the straight edge",
        (Purpose::StraightEdge, _) => "other end of the straight edge",
        (Purpose::Mark, _) => "mark by hand",
        (Purpose::Flash | Purpose::TimingMarks, 0) => "first corner of the region",
        (Purpose::Flash | Purpose::TimingMarks, _) => "opposite corner of the region",
    };
    let Some(point) = placing.taken().map(|taken| taken.px) else {
        return format!("press in the film: {what}");
    };
    let place = format!("{what} at x {:.2}, y {:.2} px", point[0], point[1]);
    match &placing.fitted {
        Some(Ok(fitted)) if !placing.as_pointed => format!(
            "{place}, fitted, ± {:.3} and {:.3} px",
            COVERAGE_95 * fitted.cov.xx.sqrt(),
            COVERAGE_95 * fitted.cov.yy.sqrt()
        ),
        Some(Err(why)) if !placing.as_pointed => format!("{place}, as pointed: {why}"),
        _ => format!("{place}, as pointed"),
    }
}

fn buttons(ui: &mut Ui, placing: &Placing, commands: &mut Commands) {
    ui.horizontal_wrapped(|ui| {
        if placing.taken().is_some() && ui.button("Accept").on_hover_text("Enter").clicked() {
            commands.push(Command::Accept);
        }
        if ui.button("Give up").on_hover_text("Escape").clicked() {
            commands.push(Command::GiveUp);
        }
        if placing.purpose.is_fitted() && placing.point.is_some() {
            let mut as_pointed = placing.as_pointed;
            if ui.checkbox(&mut as_pointed, "As pointed").on_hover_text("S").changed() {
                commands.push(Command::Settle);
            }
        }
    });
    ui.label("Arrow keys move it by 1 px, with Shift by 0.1 px.");
}
