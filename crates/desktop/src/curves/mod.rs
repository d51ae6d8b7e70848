//! The curves: the time ruler under the film. What they show is the results' own, in the units of the test.

mod export;
mod legend;
mod marks;
mod measured;
mod pane;
mod steps;
mod thin;

pub(crate) use export::export;
pub(crate) use pane::show;

use crate::session::Session;
use filmgauge_results::Panel;
use std::time::Instant;

/// Makes the curves of one kind.
type Source = fn(&Session) -> Vec<Panel>;

/// Where curves come from, each in a file of its own.
const SOURCES: [Source; 3] = [measured::panels, marks::panels, steps::panels];
/// Curves shown until others are chosen.
const N_USUAL: usize = 2;

/// Curves, made anew when what they are made of changes.
#[derive(Default)]
pub(crate) struct Curves {
    made_of: Option<MadeOf>,
    panels: Vec<Panel>,
}

#[derive(PartialEq, Clone)]
struct MadeOf {
    measured: Option<Instant>,
    target: Option<crate::session::TargetRef>,
    is_us: bool,
}

impl Curves {
    /// Brings them up to date.
    pub(crate) fn tend(&mut self, session: &Session) {
        let now = MadeOf {
            measured: session.measured.as_ref().map(|measured| measured.came),
            target: session.view.target.clone(),
            is_us: session.units() == filmgauge_results::UnitSystem::Us,
        };
        if self.made_of.as_ref() != Some(&now) {
            self.panels = SOURCES.iter().flat_map(|source| source(session)).collect();
            self.made_of = Some(now);
        }
    }

    /// Those that are shown.
    pub(crate) fn shown<'a>(&'a self, session: &'a Session) -> impl Iterator<Item = &'a Panel> {
        let chosen = session.view.curves.as_ref();
        self.panels.iter().enumerate().filter_map(move |(n, panel)| {
            let is_shown = chosen.map_or(n < N_USUAL, |names| names.contains(&panel.title));
            is_shown.then_some(panel)
        })
    }

    /// Whether there is none yet.
    pub(crate) fn is_empty(&self) -> bool {
        self.panels.is_empty()
    }

    /// Titles of all, and whether each is shown.
    pub(crate) fn titles(&self, session: &Session) -> Vec<(String, bool)> {
        let shown: Vec<&str> = self.shown(session).map(|panel| panel.title.as_str()).collect();
        self.panels.iter().map(|panel| (panel.title.clone(), shown.contains(&panel.title.as_str()))).collect()
    }
}
