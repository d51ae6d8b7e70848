//! The form down the left: one line for each thing that the sheet needs, filled in by hand or by measuring.

mod board;
mod bodies;
mod cameras;
mod channels;
mod checks;
mod crush;
mod depth;
mod drawing;
mod events;
mod exposure;
pub(crate) mod fields;
mod films;
mod findings;
mod gaps;
mod hand;
mod handover;
mod lengths;
mod lens;
mod notices;
mod pane;
mod profile;
mod space;
mod speed;
mod survey;
mod targets;
mod test;
mod zero;

pub(crate) use pane::show;

use crate::command::Commands;
use crate::session::Session;
use eframe::egui::Ui;

/// How a line stands.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum State {
    /// Nothing there yet; what to do.
    Empty(String),
    /// Done; its value.
    Done(String),
    /// Needs a person; why.
    Person(String),
}

impl State {
    /// The state in one word or three.
    pub(crate) fn word(&self) -> &'static str {
        match self {
            Self::Empty(_) => "empty",
            Self::Done(_) => "done",
            Self::Person(_) => "needs a person",
        }
    }

    /// What goes with it.
    pub(crate) fn text(&self) -> &str {
        match self {
            Self::Empty(text) | Self::Done(text) | Self::Person(text) => text,
        }
    }

    /// Whether something is still to be done.
    pub(crate) fn is_need(&self) -> bool {
        !matches!(self, Self::Done(_))
    }
}

/// One line.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Line {
    /// Its key, once in a form.
    pub(crate) key: String,
    /// Its name for people.
    pub(crate) title: String,
    /// How it stands.
    pub(crate) state: State,
    /// Which of its kind it is: a camera, a body, a finding.
    pub(crate) index: usize,
    /// Camera and frame that show it best.
    pub(crate) evidence: Option<(String, u32)>,
}

impl Line {
    fn new(key: impl Into<String>, title: impl Into<String>, state: State) -> Self {
        Self { key: key.into(), title: title.into(), state, index: 0, evidence: None }
    }

    /// A line of a camera: its frame is what shows it.
    fn of_camera(session: &Session, index: usize, name: &str, state: State) -> Self {
        let camera = &session.document().camera[index].id;
        let frame = session.view.frames.get(camera).copied().unwrap_or(0);
        Self {
            key: format!("{name} {camera}"),
            title: format!("{name}, {camera}"),
            state,
            index,
            evidence: Some((camera.clone(), frame)),
        }
    }

    fn with(self, index: usize) -> Self {
        Self { index, ..self }
    }
}

/// Lines of one kind.
struct Section {
    /// The lines as they stand.
    lines: fn(&Session) -> Vec<Line>,
    /// What a chosen line opens.
    open: fn(&mut Ui, &Session, &Line, &mut Commands),
}

/// All of them, in the order in which one fills them in.
const SECTIONS: [Section; 22] = [
    Section { lines: test::lines, open: test::open },
    Section { lines: films::lines, open: films::open },
    Section { lines: cameras::lines, open: cameras::open },
    Section { lines: speed::lines, open: speed::open },
    Section { lines: exposure::lines, open: exposure::open },
    Section { lines: zero::lines, open: zero::open },
    Section { lines: board::lines, open: board::open },
    Section { lines: survey::lines, open: survey::open },
    Section { lines: lengths::lines, open: lengths::open },
    Section { lines: bodies::lines, open: bodies::open },
    Section { lines: targets::lines, open: targets::open },
    Section { lines: crush::lines, open: crush::open },
    Section { lines: profile::lines, open: profile::open },
    Section { lines: space::lines, open: space::open },
    Section { lines: gaps::lines, open: gaps::open },
    Section { lines: hand::lines, open: hand::open },
    Section { lines: events::lines, open: events::open },
    Section { lines: channels::lines, open: channels::open },
    Section { lines: findings::lines, open: findings::open },
    Section { lines: checks::lines, open: checks::open },
    Section { lines: notices::lines, open: notices::open },
    Section { lines: handover::lines, open: handover::open },
];

/// Every line as it stands.
pub(crate) fn lines(session: &Session) -> Vec<Line> {
    SECTIONS.iter().flat_map(|section| (section.lines)(session)).collect()
}
