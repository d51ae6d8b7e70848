//! A person's hands: presses what has a name, types into fields, points into the film, waits for what is under way.

use eframe::egui::accesskit::Role;
use eframe::egui::{Key, Modifiers, Pos2, Rect, vec2};
use egui_kittest::kittest::{NodeT, Queryable};
use egui_kittest::{Harness, Node};
use filmgauge_desktop::{Desk, Places};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// Longest wait for anything; a measurement of the sample takes some ten seconds on an idle machine.
const MOST_WAIT: Duration = Duration::from_secs(240);

/// A desk on a screen of its own.
pub struct Hands {
    /// The screen.
    pub harness: Harness<'static, Desk>,
    /// The desk's own folder.
    pub folder: tempfile::TempDir,
}

impl Hands {
    /// A desk without a dossier.
    pub fn new() -> Self {
        Self::on([1480.0, 920.0])
    }

    /// The same on a screen of a size, points.
    pub fn on(size: [f32; 2]) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let places = Places::within(folder.path());
        let harness = Harness::builder()
            .with_size(vec2(size[0], size[1]))
            .build_eframe(move |creation| Desk::new(&creation.egui_ctx, places));
        let mut hands = Self { harness, folder };
        hands.look();
        hands
    }

    /// Opens a dossier.
    pub fn open(&mut self, dossier: &Path) {
        self.harness.state_mut().open(dossier);
        self.wait();
    }

    /// Begins a dossier with a copy of the sample's side film, as if it had been dropped.
    pub fn begin_with_film(&mut self) {
        let film = self.folder.path().join("side.mkv");
        std::fs::copy(sample().join("footage/side.mkv"), &film).unwrap();
        self.enter("Path of a film or of a dossier", &film.display().to_string());
    }

    /// A few pictures of the screen.
    pub fn look(&mut self) {
        self.harness.run_steps(4);
    }

    /// Waits until nothing is under way.
    pub fn wait(&mut self) {
        self.look();
        let since = Instant::now();
        while self.harness.state().is_busy() {
            assert!(since.elapsed() < MOST_WAIT, "still busy; said: {:?}", self.harness.state().said());
            std::thread::sleep(Duration::from_millis(10));
            self.harness.step();
        }
        self.look();
    }

    /// What has this name and role.
    pub fn named<'a>(&'a self, role: Role, name: &'a str) -> Node<'a> {
        self.harness.get_by_role_and_label(role, name)
    }

    /// Whether anything has a name that holds this text.
    pub fn shows(&self, text: &str) -> bool {
        self.harness.query_all_by_label_contains(text).next().is_some()
    }

    /// Names that hold a text, in the order of the screen.
    pub fn names(&self, text: &str) -> Vec<String> {
        let nodes = self.harness.query_all_by_label_contains(text);
        nodes
            .map(|node| node.accesskit_node().label().or(node.accesskit_node().value()).unwrap_or_default())
            .collect()
    }

    /// Presses a button by its whole name.
    pub fn press(&mut self, name: &str) {
        self.named(Role::Button, name).click_accesskit();
        self.wait();
    }

    /// Opens the line of the form whose name begins like this.
    pub fn line(&mut self, beginning: &str) {
        let lines = self.harness.query_all_by_label_contains(beginning);
        let line = lines
            .into_iter()
            .find(|node| node.accesskit_node().label().is_some_and(|name| name.starts_with(beginning)))
            .unwrap_or_else(|| panic!("no line {beginning}"));
        line.click_accesskit();
        self.wait();
    }

    /// Types into a field, in place of what is there, and presses Enter.
    pub fn enter(&mut self, field: &str, text: &str) {
        self.named(Role::TextInput, field).focus();
        self.look();
        self.harness.key_press_modifiers(Modifiers::COMMAND, Key::A);
        self.harness.step();
        self.named(Role::TextInput, field).type_text(text);
        self.harness.step();
        self.harness.key_press(Key::Enter);
        self.wait();
    }

    /// Chooses a word from a list.
    pub fn choose(&mut self, list: &str, word: &str) {
        self.named(Role::ComboBox, list).click_accesskit();
        self.look();
        let found: Vec<_> = self.harness.query_all_by_label(word).collect();
        found.last().unwrap_or_else(|| panic!("{list} has no {word}")).click_accesskit();
        self.wait();
    }

    /// Presses a key.
    pub fn key(&mut self, modifiers: Modifiers, key: Key) {
        self.harness.key_press_modifiers(modifiers, key);
        self.wait();
    }

    /// Does an act by its name, from the list of acts.
    pub fn act(&mut self, name: &str) {
        self.key(Modifiers::COMMAND, Key::P);
        self.named(Role::TextInput, "Type a few letters of what you want to do").type_text(name);
        self.look();
        self.key(Modifiers::NONE, Key::Enter);
    }

    /// Where the film is on the screen.
    pub fn film(&self) -> Rect {
        let films = self.harness.query_all_by_role(Role::Image);
        let film = films.into_iter().find(|node| {
            node.accesskit_node().label().is_some_and(|name| name.starts_with("Film of camera"))
        });
        film.expect("a film").rect()
    }

    /// Screen place of a pixel of a whole picture of this size.
    pub fn at(&self, size: [f32; 2], px: [f32; 2]) -> Pos2 {
        let rect = self.film();
        let zoom = (rect.width() / size[0]).min(rect.height() / size[1]);
        rect.center() + vec2(px[0] - (size[0] - 1.0) / 2.0, px[1] - (size[1] - 1.0) / 2.0) * zoom
    }

    /// Presses the mouse on a place of the screen.
    pub fn press_at(&mut self, at: Pos2) {
        self.harness.hover_at(at);
        self.harness.step();
        self.harness.drag_at(at);
        self.harness.step();
        self.harness.drop_at(at);
        self.wait();
    }

    /// The last sentence said.
    pub fn said(&self) -> String {
        self.harness.state().said().last().cloned().unwrap_or_default()
    }
}

/// The sample test's folder.
pub fn sample() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../sample-frames/hatchback")
}

/// A copy of the sample with all that belongs to it.
pub fn copy_of_sample(to: &Path) -> PathBuf {
    let target = to.join("hatchback");
    copy(&sample(), &target);
    target
}

fn copy(from: &Path, to: &Path) {
    std::fs::create_dir_all(to).unwrap();
    for entry in std::fs::read_dir(from).unwrap() {
        let entry = entry.unwrap();
        let target = to.join(entry.file_name());
        if entry.file_type().unwrap().is_dir() {
            copy(&entry.path(), &target);
        } else {
            std::fs::copy(entry.path(), target).unwrap();
        }
    }
}
