//! The only place that changes anything: commands are carried out here, each kind in a file of its own.

mod calibrating;
mod editing;
mod finding;
pub(crate) mod handing;
pub(crate) mod looks;
mod marking;
mod opening;
mod placing;
pub(crate) mod running;
mod surveying;
mod viewing;

use crate::command::Command;
use crate::desk::Desk;

/// Carries one command out. What cannot be done is said; nothing is lost by it.
pub(crate) fn obey(desk: &mut Desk, command: Command) {
    match command {
        Command::Open(path) => opening::open(desk, &path),
        Command::OpenSample => opening::sample(desk),
        Command::New(films) => opening::new(desk, &films),
        Command::Close => opening::close(desk),
        Command::Dropped(files) => opening::dropped(desk, &files),
        Command::Over(over) => desk.over = over,
        Command::TextSize(percent) => looks::text_size(desk, percent),
        Command::Dark(dark) => looks::dark(desk, dark),
        Command::Who(who) => looks::who(desk, &who),
        Command::Say(text) => desk.messages.say(text),
        other => {
            if let Some(session) = &mut desk.session {
                let said = in_session(session, (&desk.ctx, &desk.curves), other);
                if let Some(text) = said {
                    desk.messages.say(text);
                }
            }
        }
    }
}

/// Commands of an open dossier; a sentence to say, if any.
fn in_session(
    session: &mut crate::session::Session,
    (ctx, curves): (&eframe::egui::Context, &crate::curves::Curves),
    command: Command,
) -> Option<String> {
    match command {
        Command::AddFilms(films) => editing::add_films(session, ctx, &films),
        Command::Edit(act, edits) => editing::edit(session, ctx, &act, &edits),
        Command::Undo => editing::undo(session, ctx),
        Command::Redo => editing::redo(session, ctx),
        Command::UndoAll => editing::all(session, ctx, editing::undo),
        Command::RedoAll => editing::all(session, ctx, editing::redo),
        Command::Save => editing::save(session),
        Command::Place(purpose) => placing::begin(session, purpose),
        Command::Point(px) => placing::point(session, px),
        Command::Nudge(x, y) => placing::nudge(session, x, y),
        Command::Settle => placing::settle(session),
        Command::Accept => placing::accept(session, ctx),
        Command::GiveUp => placing::give_up(session),
        Command::StraightEdge(ends) => calibrating::straight_edge(session, ends),
        Command::DropEdge(n) => calibrating::drop_edge(session, n),
        Command::Calibrate(job) => calibrating::begin(session, ctx, job),
        Command::StopCalibrating => calibrating::stop(session),
        Command::Spot => finding::spot(session, ctx),
        Command::AcceptFound(n) => finding::accept(session, ctx, Some(n)),
        Command::AcceptAllFound => finding::accept(session, ctx, None),
        Command::RejectFound(n) => finding::reject(session, n),
        Command::MarkedFilm => marking::begin(session, ctx),
        Command::StopMarking => marking::stop(session),
        Command::Measure => running::measure(session, ctx),
        Command::Stop => running::stop(session),
        Command::HandOver(job) => handing::begin(session, ctx, job),
        Command::StopHandover => handing::stop(session),
        Command::Show(shown) => running::show(session, ctx, shown),
        Command::Export(figure) => running::export(session, curves, figure),
        other => viewing::view(session, curves, other),
    }
}
