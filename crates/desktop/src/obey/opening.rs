//! Opening, making and closing dossiers.

use super::editing;
use crate::command::Command;
use crate::desk::Desk;
use crate::session::{Session, View};
use filmgauge_daybook::{Workbook, WorkbookOptions};
use std::path::{Path, PathBuf};

/// Ends of names of files that hold text, which are never films.
const TEXTS: [&str; 8] = ["txt", "csv", "json", "md", "log", "pdf", "docx", "html"];

pub(super) fn open(desk: &mut Desk, path: &Path) {
    // The lock of the dossier that is open must be free before it is taken again.
    close(desk);
    match Workbook::open(path, options(desk)) {
        Ok((workbook, notes)) => {
            begin(desk, workbook);
            for note in notes {
                desk.messages.say(note.text);
            }
        }
        Err(error) => desk.messages.say(format!("{} was not opened: {error}", path.display())),
    }
}

pub(super) fn sample(desk: &mut Desk) {
    match desk.places.copy_of_sample() {
        Ok(folder) => open(desk, &folder),
        Err(text) => desk.messages.say(text),
    }
}

/// A dossier for these films in a folder beside the first, so that nothing is put among the originals.
pub(super) fn new(desk: &mut Desk, films: &[PathBuf]) {
    let Some(first) = films.first() else { return };
    close(desk);
    let whole = |film: &PathBuf| std::path::absolute(film).unwrap_or_else(|_| film.clone());
    let films: Vec<PathBuf> = films.iter().map(whole).collect();
    let beside = first.parent().filter(|parent| !parent.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let stem =
        first.file_stem().map_or_else(|| "test".into(), |stem| stem.to_string_lossy().replace('*', ""));
    let stem = stem.trim_matches(['_', '-', ' ']);
    let stem = if stem.is_empty() { "test" } else { stem };
    let named = |n: u32| if n == 1 { format!("{stem}-dossier") } else { format!("{stem}-dossier-{n}") };
    let dir =
        (1..).map(|n| beside.join(named(n))).find(|dir| !dir.exists()).unwrap_or_else(|| beside.join(stem));
    match Workbook::create(&dir, &films, options(desk)) {
        Ok(workbook) => {
            begin(desk, workbook);
            desk.messages.say(format!("A new dossier in {}. Go down the form from the top.", dir.display()));
        }
        Err(error) => desk.messages.say(format!("No dossier was made: {error}")),
    }
}

pub(super) fn close(desk: &mut Desk) {
    let Some(mut session) = desk.session.take() else { return };
    desk.ctx.send_viewport_cmd(eframe::egui::ViewportCommand::Title("Filmgauge".into()));
    if session.workbook.read_only().is_none()
        && let Err(error) = session.workbook.save()
    {
        desk.messages.say(error.to_string());
    }
    desk.curves = Default::default();
    desk.screen = Default::default();
}

/// Films begin a dossier or join the open one; a dossier is opened; anything else is named and left alone.
pub(super) fn dropped(desk: &mut Desk, files: &[PathBuf]) {
    let dossier = files.iter().find(|file| {
        file.join("dossier.toml").is_file()
            || file.extension().is_some_and(|end| end == "toml") && file.is_file()
    });
    if let Some(dossier) = dossier {
        return open(desk, &dossier.clone());
    }
    let (texts, films): (Vec<&PathBuf>, Vec<&PathBuf>) = files.iter().partition(|file| {
        let end = file.extension().map(|end| end.to_string_lossy().to_lowercase());
        end.is_some_and(|end| TEXTS.contains(&end.as_str())) || file.is_dir()
    });
    for text in texts {
        desk.messages.say(format!(
            "{} is neither a film nor a dossier's folder; nothing was changed. Drop video files, or a folder with a dossier.toml. Channel files are added in the line \"Channels\".",
            text.display()
        ));
    }
    let films: Vec<PathBuf> = films.into_iter().cloned().collect();
    if films.is_empty() {
        return;
    }
    let command = if desk.session.is_some() { Command::AddFilms(films) } else { Command::New(films) };
    super::obey(desk, command);
}

fn options(desk: &Desk) -> WorkbookOptions {
    WorkbookOptions { who: desk.remembered.who.clone(), ..WorkbookOptions::default() }
}

/// Puts an open workbook on the desk.
fn begin(desk: &mut Desk, workbook: Workbook) {
    let root = workbook.dossier().root.clone();
    let title = format!("{} - Filmgauge", workbook.document().test.id);
    desk.ctx.send_viewport_cmd(eframe::egui::ViewportCommand::Title(title));
    desk.remembered.opened(&std::path::absolute(&root).unwrap_or(root));
    if let Err(text) = desk.places.remember(&desk.remembered) {
        desk.messages.say(text);
    }
    if let Some(why) = workbook.read_only() {
        desk.messages.say(format!("Open for reading only: {why}"));
    }
    let mut session = Session {
        workbook,
        view: View::default(),
        reels: Vec::new(),
        measured: None,
        measuring: None,
        marking: None,
        spotting: None,
        calibrating: None,
        calibrated: None,
        handing: None,
        handed: None,
        found: None,
        failure: None,
    };
    editing::match_reels(&mut session, &desk.ctx);
    desk.session = Some(session);
}
