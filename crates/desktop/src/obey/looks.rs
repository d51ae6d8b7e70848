//! The desk's own looks: size of text, dark or light, who works here.

use crate::desk::Desk;
use eframe::egui::{Theme, ThemePreference};

/// Smallest and largest text, percent.
const SIZES: std::ops::RangeInclusive<u16> = 75..=200;

/// Makes the desk look as is remembered.
pub(crate) fn set(desk: &Desk) {
    let percent = desk.remembered.text_percent.clamp(*SIZES.start(), *SIZES.end());
    desk.ctx.set_zoom_factor(f32::from(percent) / 100.0);
    desk.ctx.set_theme(match desk.remembered.dark {
        Some(true) => ThemePreference::from(Theme::Dark),
        Some(false) => ThemePreference::from(Theme::Light),
        None => ThemePreference::System,
    });
}

pub(super) fn text_size(desk: &mut Desk, percent: u16) {
    desk.remembered.text_percent = percent.clamp(*SIZES.start(), *SIZES.end());
    keep(desk);
}

pub(super) fn dark(desk: &mut Desk, dark: Option<bool>) {
    desk.remembered.dark = dark;
    keep(desk);
}

pub(super) fn who(desk: &mut Desk, who: &str) {
    let who = who.trim();
    if who.is_empty() {
        desk.messages.say("The day book needs a name or initials.");
        return;
    }
    desk.remembered.who = who.to_owned();
    keep(desk);
    if desk.session.is_some() {
        desk.messages.say(format!("Dossiers opened from now on are worked on by {who}."));
    }
}

fn keep(desk: &mut Desk) {
    set(desk);
    if let Err(text) = desk.places.remember(&desk.remembered) {
        desk.messages.say(text);
    }
}
