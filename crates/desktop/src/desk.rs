//! The application: what it holds, what happens between two pictures of the screen, and how the screen is laid out.

use crate::acts;
use crate::command::{Command, Commands, Over};
use crate::curves::{self, Curves};
use crate::film::{self, Screen};
use crate::form;
use crate::look;
use crate::measured::Measured;
use crate::obey::{self, running};
use crate::pages;
use crate::places::{Places, Remembered};
use crate::session::Session;
use crate::status::{self, Messages};
use crate::welcome;
use eframe::egui::{self, CentralPanel, Panel, ScrollArea, Ui};
use filmgauge_dossier::Document;
use filmgauge_results::Results;
use std::path::Path;
use std::time::{Duration, Instant};

/// First and least width of the form, points.
const FORM_WIDTH: f32 = 380.0;
const LEAST_FORM: f32 = 260.0;
/// First height of the curves, points.
const CURVES_HEIGHT: f32 = 330.0;
/// Most of the height that the curves take.
const MOST_CURVES_SHARE: f32 = 0.6;
const LEAST_CURVES: f32 = 48.0;
const NO_CURVES: &str = "Curves come with the first measurement; until then the film is stepped by frames.";
/// Most of the width that the form takes, and that the close-up takes of the rest: large text leaves the film a place.
const MOST_FORM_SHARE: f32 = 0.45;
const MOST_CLOSE_UP_SHARE: f32 = 0.45;
const CLOSE_UP_WIDTH: f32 = 250.0;
/// Something unsaved or under way is looked after this often.
const TEND_EVERY: Duration = Duration::from_millis(200);

/// The desk.
pub struct Desk {
    pub(crate) ctx: egui::Context,
    pub(crate) places: Places,
    pub(crate) remembered: Remembered,
    pub(crate) session: Option<Session>,
    pub(crate) messages: Messages,
    pub(crate) over: Option<Over>,
    pub(crate) curves: Curves,
    pub(crate) screen: Screen,
    commands: Commands,
}

impl Desk {
    /// A desk without a dossier.
    #[must_use]
    pub fn new(ctx: &egui::Context, places: Places) -> Self {
        look::set_up(ctx);
        let remembered = places.remembered();
        let desk = Self {
            ctx: ctx.clone(),
            places,
            remembered,
            session: None,
            messages: Messages::default(),
            over: None,
            curves: Curves::default(),
            screen: Screen::default(),
            commands: Commands::default(),
        };
        obey::looks::set(&desk);
        desk
    }

    /// Opens a dossier by its folder or file; what went wrong is said on the screen.
    pub fn open(&mut self, dossier: &Path) {
        self.commands.push(Command::Open(dossier.to_owned()));
    }

    /// What the open dossier says.
    #[must_use]
    pub fn document(&self) -> Option<&Document> {
        self.session.as_ref().map(Session::document)
    }

    /// The last good results.
    #[must_use]
    pub fn results(&self) -> Option<&Results> {
        Some(&self.session.as_ref()?.measured.as_ref()?.results)
    }

    /// Looks at a frame of the camera that is looked at; beyond the last means the last.
    pub fn go_to(&mut self, frame: u32) {
        self.commands.push(Command::Frame(frame));
    }

    /// Number of the frame that is on the screen; `None` until a first picture has come.
    #[must_use]
    pub fn frame_shown(&self) -> Option<u32> {
        Some(self.session.as_ref()?.reel()?.latest()?.number.0)
    }

    /// Number of frames of the film that is looked at; 0 until it is known.
    #[must_use]
    pub fn n_frames(&self) -> u32 {
        self.session.as_ref().and_then(Session::reel).map_or(0, film::Reel::n_frames)
    }

    /// Shows results that were measured elsewhere from the open dossier as it stands.
    pub fn show(&mut self, results: Results) {
        if let Some(session) = &mut self.session {
            session.measured = Some(Measured::new(results, session.workbook.version()));
        }
    }

    /// Sentences said so far, latest last.
    #[must_use]
    pub fn said(&self) -> &[String] {
        self.messages.all()
    }

    /// Whether something is under way: a film being opened, a frame on its way, a search, a measurement.
    #[must_use]
    pub fn is_busy(&self) -> bool {
        self.session.as_ref().is_some_and(|session| {
            session.measuring.is_some()
                || session.marking.is_some()
                || session.spotting.is_some()
                || session.calibrating.is_some()
                || session.handing.is_some()
                || session.reels.iter().any(film::Reel::is_waiting)
        })
    }

    fn obey_all(&mut self) {
        for command in self.commands.take() {
            obey::obey(self, command);
        }
    }

    /// Frames that are looked at are asked for, and what came is taken over.
    fn tend_films(&mut self) {
        let Some(session) = &mut self.session else { return };
        let wanted: Vec<Option<u32>> = (0..session.reels.len())
            .map(|n| session.frame_of(n).filter(|_| n == session.view.camera || session.view.in_step))
            .collect();
        for (reel, wanted) in session.reels.iter_mut().zip(wanted) {
            reel.tend();
            if let Some(frame) = wanted {
                reel.ask(frame);
            }
        }
    }

    fn tend_saving(&mut self) {
        let Some(session) = &mut self.session else { return };
        match session.workbook.autosave(Instant::now()) {
            Ok(_) => {}
            Err(error) => {
                let text = error.to_string();
                if self.messages.last() != text {
                    self.messages.say(text);
                }
            }
        }
        if !session.workbook.is_saved() || session.measuring.is_some() || session.marking.is_some() {
            self.ctx.request_repaint_after(TEND_EVERY);
        }
    }
}

impl eframe::App for Desk {
    fn logic(&mut self, ctx: &egui::Context, _: &mut eframe::Frame) {
        let dropped: Vec<_> =
            ctx.input(|input| input.raw.dropped_files.iter().map(|file| file.path().to_owned()).collect());
        if !dropped.is_empty() {
            self.commands.push(Command::Dropped(dropped));
        }
        if self.over.is_none() {
            for command in acts::pressed(ctx, self.session.as_ref()) {
                self.commands.push(command);
            }
        }
        self.obey_all();
        running::tend(self);
        self.tend_films();
        self.tend_saving();
        if let Some(session) = &self.session {
            self.curves.tend(session);
        }
    }

    fn ui(&mut self, ui: &mut Ui, _: &mut eframe::Frame) {
        let mut commands = std::mem::take(&mut self.commands);
        Panel::top("strip").show(ui, |ui| strip(ui, self.session.as_ref(), &mut commands));
        Panel::bottom("status").show(ui, |ui| status::show(ui, self.session.as_ref(), &self.messages));
        match &self.session {
            None => {
                CentralPanel::default_margins()
                    .show(ui, |ui| welcome::show(ui, &self.remembered, &mut commands));
            }
            Some(session) => work(ui, session, &self.curves, &mut self.screen, &mut commands),
        }
        if let Some(over) = self.over {
            pages::show(ui, over, (self.session.as_ref(), &self.remembered), &mut commands);
        }
        self.commands = commands;
        if let Some(session) = &mut self.session {
            // Wishes for one picture of the screen, which has now been drawn.
            (session.view.whole_time, session.view.wants_field) = (false, false);
        }
        self.obey_all();
    }

    fn on_exit(&mut self, _: Option<&eframe::glow::Context>) {
        if let Some(session) = &mut self.session
            && session.workbook.read_only().is_none()
        {
            // Whatever fails here is in the day book already and comes back on opening.
            let _ = session.workbook.save();
        }
    }
}

/// The strip along the top: what can be reached from everywhere.
fn strip(ui: &mut Ui, session: Option<&Session>, commands: &mut Commands) {
    ui.horizontal_wrapped(|ui| {
        let mut button = |ui: &mut Ui, name: &str, help: &str, is_on: bool, command: Command| {
            let response = ui.add_enabled(is_on, egui::Button::new(name)).on_hover_text(help);
            if response.clicked() {
                commands.push(command);
            }
        };
        let page = |over: Over| Command::Over(Some(over));
        button(ui, "Acts", "Ctrl+P: everything that can be done, by name", true, page(Over::Acts));
        if let Some(session) = session {
            let undo = session.workbook.next_undo().map(str::to_owned);
            let redo = session.workbook.next_redo().map(str::to_owned);
            let help = |verb: &str, act: &Option<String>| {
                act.as_ref().map_or_else(|| format!("Nothing to {verb}"), |act| format!("{verb}: {act}"))
            };
            button(ui, "Undo", &help("undo", &undo), undo.is_some(), Command::Undo);
            button(ui, "Do again", &help("do again", &redo), redo.is_some(), Command::Redo);
            button(ui, "Day book", "F4: every change, by whom and when", true, page(Over::Daybook));
        }
        button(ui, "Looks", "Size of text, dark or light, who works here", true, page(Over::Looks));
        button(ui, "Keys", "F1 or ?: every key", true, page(Over::Keys));
        if session.is_some() {
            button(ui, "Close", "Ctrl+W: closes the dossier; everything is kept", true, Command::Close);
        }
    });
}

fn work(ui: &mut Ui, session: &Session, curves: &Curves, screen: &mut Screen, commands: &mut Commands) {
    let most = ui.available_width() * MOST_FORM_SHARE;
    Panel::left("form")
        .default_size(FORM_WIDTH.min(most))
        .min_size(LEAST_FORM.min(most))
        .max_size(most)
        .show(ui, |ui| form::show(ui, session, commands));
    if curves.is_empty() {
        Panel::bottom("no curves yet").show(ui, |ui| ui.label(NO_CURVES));
    } else {
        let most = ui.available_height() * MOST_CURVES_SHARE;
        Panel::bottom("curves")
            .resizable(true)
            .default_size(CURVES_HEIGHT.min(most))
            .min_size(LEAST_CURVES)
            .max_size(most)
            .show(ui, |ui| curves::show(ui, session, curves, commands));
    }
    Panel::bottom("bar").show(ui, |ui| film::bar(ui, session, commands));
    let most = ui.available_width() * MOST_CLOSE_UP_SHARE;
    Panel::right("close-up").default_size(CLOSE_UP_WIDTH.min(most)).max_size(most).show(ui, |ui| {
        ScrollArea::vertical().show(ui, |ui| {
            film::close_up(ui, session, screen, commands);
            ui.separator();
            film::seen(ui, session, commands);
        });
    });
    CentralPanel::no_frame().show(ui, |ui| {
        let n = session.document().camera.len();
        if session.view.in_step && n > 1 {
            ui.columns(n, |columns| {
                for (index, ui) in columns.iter_mut().enumerate() {
                    film::show(ui, session, index, screen, commands);
                }
            });
        } else {
            film::show(ui, session, session.view.camera, screen, commands);
        }
    });
}
