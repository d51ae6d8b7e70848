//! `filmgauge-desk [DOSSIER]`: opens the desk in a window.

use anyhow::{Context, Result};
use clap::Parser;
use eframe::egui::{Vec2, ViewportBuilder};
use filmgauge_desktop::{Desk, Places};
use std::path::PathBuf;

/// Least and first size of the window, points.
const LEAST: Vec2 = Vec2::new(900.0, 600.0);
const FIRST: Vec2 = Vec2::new(1480.0, 920.0);

/// The desk: measures motion from the high-speed films of an impact test, by eye and hand.
#[derive(Parser)]
#[command(version)]
struct Typed {
    /// Dossier to open: its folder or its dossier.toml. Without it the desk starts with what was open last.
    dossier: Option<PathBuf>,
}

fn main() -> Result<()> {
    let typed = Typed::parse();
    let viewport = ViewportBuilder::default()
        .with_title("Filmgauge")
        .with_app_id("filmgauge")
        .with_inner_size(FIRST)
        .with_min_inner_size(LEAST)
        .with_drag_and_drop(true);
    let renderer = eframe::Renderer::Glow;
    let options = eframe::NativeOptions { viewport, renderer, ..Default::default() };
    let open = Box::new(move |creation: &eframe::CreationContext<'_>| {
        let mut desk = Desk::new(&creation.egui_ctx, Places::of_this_user());
        if let Some(dossier) = &typed.dossier {
            desk.open(dossier);
        }
        Ok(Box::new(desk) as Box<dyn eframe::App>)
    });
    eframe::run_native("filmgauge", options, open)
        .map_err(|error| anyhow::anyhow!(error.to_string()))
        .context(
            "the desk needs a screen with OpenGL 2 or later and found none. Nothing was opened or changed. \
             Every figure can also be had without a screen: filmgauge measure DOSSIER",
        )
}
