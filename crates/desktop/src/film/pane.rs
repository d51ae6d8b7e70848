//! The film's place on the screen: the picture, what is drawn over it, and what a pointer does there.

use super::Screen;
use super::fit::{Fit, OnScreen};
use super::overlays::{self, OnFilm};
use super::picture::Levels;
use super::reel::ReelState;
use crate::acts::film_focus;
use crate::command::{Command, Commands};
use crate::session::{Session, TargetRef};
use eframe::egui::{
    self, Align2, Color32, CursorIcon, EventFilter, FontId, Pos2, Response, Role, Sense, Ui, WidgetInfo,
};

/// A press this near to a mark chooses it, points.
const REACH: f32 = 14.0;
/// Zoom for one unit of scrolling.
const ZOOM_PER_SCROLL: f32 = 1.004;

/// Shows the film of the `index`-th camera in the whole of `ui`.
pub(crate) fn show(
    ui: &mut Ui,
    session: &Session,
    index: usize,
    screen: &mut Screen,
    commands: &mut Commands,
) {
    let (rect, response) = ui.allocate_exact_size(ui.available_size(), Sense::click_and_drag());
    let words = told(session, index);
    response.widget_info(|| WidgetInfo::labeled(Role::Image, true, &words));
    let painter = ui.painter_at(rect);
    painter.rect_filled(rect, 0.0, Color32::from_gray(24));
    let (Some(camera), Some(reel)) = (session.document().camera.get(index), session.reels.get(index)) else {
        return middle(&painter, "No film yet. Drop one here, or add it in the line \"Films\".");
    };
    let picture = screen.pictures.entry(camera.id.clone()).or_default();
    let levels = Levels { brightness: session.view.brightness, contrast: session.view.contrast };
    let Some(frame) = reel.latest() else {
        let text = match reel.state() {
            ReelState::Failed(why) => why,
            ReelState::Reading(_) | ReelState::Ready => "The film is being opened.".to_owned(),
        };
        return middle(&painter, &text);
    };
    picture.show(ui.ctx(), frame, levels);
    let fit = session.view.fits.get(&camera.id).copied().unwrap_or_default();
    let on = fit.on_screen(picture.size(), rect);
    picture.paint(&painter, &on);
    let shown = frame.number.0;
    overlays::draw(&OnFilm { session, camera: &camera.id, frame: shown, painter: &painter, on: &on });
    if let ReelState::Failed(why) = reel.state() {
        middle(&painter, &why);
    }
    if response.has_focus() {
        ui.data_mut(|data| data.insert_temp(film_focus(), response.id));
        // Arrow keys step the film or move the point; without this they would take the focus elsewhere.
        let arrows = EventFilter { horizontal_arrows: true, vertical_arrows: true, ..EventFilter::default() };
        ui.memory_mut(|memory| memory.set_focus_lock_filter(response.id, arrows));
    }
    pointed(ui, &response, session, (index, &camera.id), &on, commands);
}

/// What the pointer does.
fn pointed(
    ui: &Ui,
    response: &Response,
    session: &Session,
    (index, camera): (usize, &str),
    on: &OnScreen,
    commands: &mut Commands,
) {
    let is_looked_at = index == session.view.camera;
    let placing = session.view.placing.is_some() && is_looked_at;
    if placing && response.hovered() {
        ui.set_cursor_icon(CursorIcon::Crosshair);
    }
    let fit = |fit: Fit| Command::Fit(camera.to_owned(), fit);
    if let Some(at) = response.hover_pos() {
        let scroll = ui.input(|input| input.smooth_scroll_delta.y + 100.0 * (input.zoom_delta() - 1.0));
        if scroll != 0.0 {
            commands.push(fit(on.zoomed_about(at, ZOOM_PER_SCROLL.powf(scroll))));
        }
    }
    if response.double_clicked() && !placing {
        commands.push(fit(Fit::default()));
    } else if response.clicked()
        && let Some(at) = response.interact_pointer_pos()
    {
        response.request_focus();
        ui.data_mut(|data| data.insert_temp(film_focus(), response.id));
        if !is_looked_at {
            commands.push(Command::Camera(index));
        }
        pressed(session, camera, at, (on, placing), commands);
    } else if response.secondary_clicked()
        && let Some(n) = response.interact_pointer_pos().and_then(|at| found_at(session, camera, at, on))
    {
        commands.push(Command::RejectFound(Some(n)));
    } else if response.dragged() {
        match response
            .interact_pointer_pos()
            .filter(|_| placing && response.dragged_by(egui::PointerButton::Primary))
        {
            Some(at) => commands.push(Command::Point(on.px_from_screen(at))),
            None => commands.push(fit(on.moved(response.drag_delta()))),
        }
    }
}

fn pressed(
    session: &Session,
    camera: &str,
    at: Pos2,
    (on, placing): (&OnScreen, bool),
    commands: &mut Commands,
) {
    if placing {
        commands.push(Command::Point(on.px_from_screen(at)));
    } else if let Some(n) = found_at(session, camera, at, on) {
        commands.push(Command::AcceptFound(n));
    } else {
        commands.push(Command::Choose(target_at(session, camera, at, on)));
    }
}

fn found_at(session: &Session, camera: &str, at: Pos2, on: &OnScreen) -> Option<usize> {
    let found =
        session.found.as_ref().filter(|found| found.camera == camera && found.frame == session.frame())?;
    let reach = |radius_px: f64| (radius_px as f32 * on.zoom).max(REACH);
    found.spots.iter().map(|named| &named.spot).position(|spot| {
        on.screen_from_px([spot.centre.x, spot.centre.y]).distance(at) <= reach(spot.radius_px)
    })
}

fn target_at(session: &Session, camera: &str, at: Pos2, on: &OnScreen) -> Option<TargetRef> {
    let frame = session.frame();
    let distance = |(_, target): (usize, &filmgauge_dossier::document::TargetEntry)| {
        let place = session.place_of(camera, &target.id, frame)?;
        let reach = REACH.max(target.radius_px as f32 * on.zoom);
        let distance = on.screen_from_px(place).distance(at);
        (distance <= reach).then(|| (distance, target.id.clone()))
    };
    let nearest = session.targets_of(camera).filter_map(distance).min_by(|a, b| a.0.total_cmp(&b.0));
    nearest.map(|(_, target)| TargetRef { camera: camera.to_owned(), target })
}

/// What the picture shows, in words, for the status line and for a screen reader.
pub(crate) fn told(session: &Session, index: usize) -> String {
    let Some(camera) = session.document().camera.get(index) else { return "Film: none".to_owned() };
    let mut words = format!("Film of camera {}", camera.id);
    let Some(reel) = session.reels.get(index) else { return words };
    match reel.state() {
        ReelState::Failed(why) => return format!("{words}: {why}"),
        ReelState::Reading(done) => words.push_str(&format!(", reading through, {done} frames so far")),
        ReelState::Ready => {}
    }
    if let Some(frame) = session.frame_of(index) {
        words.push_str(&format!(", frame {frame}"));
        if reel.n_frames() > 0 {
            words.push_str(&format!(" of 0 to {}", reel.n_frames() - 1));
        }
        if let Some(time_s) = session.clock_of(&camera.id).and_then(|clock| clock.time_s(frame)) {
            words.push_str(&format!(", {:.1} ms", time_s * 1e3));
        }
        if reel.at(frame).is_some_and(|frame| frame.damaged) {
            words.push_str(", damaged frame");
        }
        if reel.at(frame).is_none() && reel.state() == ReelState::Ready {
            words.push_str(" (on its way)");
        }
    }
    words
}

fn middle(painter: &egui::Painter, text: &str) {
    let rect = painter.clip_rect().shrink(24.0);
    let galley =
        painter.layout(text.to_owned(), FontId::proportional(15.0), Color32::from_gray(230), rect.width());
    let place = Align2::CENTER_CENTER.anchor_size(rect.center(), galley.size());
    painter.rect_filled(place.expand(8.0), 4.0, Color32::from_black_alpha(190));
    painter.galley(place.min, galley, Color32::WHITE);
}
