//! Any sequence of acts, undos, redos, changes from outside and reopenings gives what the acts that stand give on a
//! fresh dossier.

use super::*;
use proptest::prelude::*;

/// What a hand does next.
#[derive(Debug, Clone)]
enum Step {
    Act(Act),
    Undo,
    Redo,
    Save,
    Reopen,
}

/// What changes the texts.
#[derive(Debug, Clone)]
enum Act {
    Edits(Vec<Edit>),
    /// Another program adds a comment while the dossier is closed.
    Outside(u16),
}

fn edit() -> impl Strategy<Value = Edit> {
    let comment = |text: String| Edit::Set {
        path: vec![key("test"), key("comment")],
        value: Value::from(text.as_str()),
    };
    let body = |n: u8| Edit::Append {
        table: "body".into(),
        values: vec![("id".into(), Value::from(format!("b{n}"))), ("mass_kg".into(), Value::from(900.0))],
    };
    let no_body = |n: usize| Edit::Remove { path: vec![key("body"), PathStep::Item(n)] };
    let no_mark = |frame: u32| Edit::RemovePick { camera: "side".into(), frame, target: "C1".into() };
    prop_oneof![
        "[a-zü\"\\\\ ]{0,6}".prop_map(|text| title(&text)),
        "[a-z\n]{0,9}".prop_map(comment),
        any::<u8>().prop_map(body),
        (0_usize..3).prop_map(no_body),
        (0_u32..4, 0_i16..999).prop_map(|(frame, x)| pick(frame, f64::from(x) / 8.0)),
        (0_u32..4).prop_map(no_mark),
    ]
}

fn step() -> impl Strategy<Value = Step> {
    prop_oneof![
        6 => prop::collection::vec(edit(), 1..3).prop_map(|edits| Step::Act(Act::Edits(edits))),
        1 => any::<u16>().prop_map(|n| Step::Act(Act::Outside(n))),
        4 => Just(Step::Undo),
        3 => Just(Step::Redo),
        1 => Just(Step::Save),
        2 => Just(Step::Reopen),
    ]
}

/// Does `act` to the dossier in `dir`; whether anything changed. A refused act changes nothing.
fn done(book: Workbook, dir: &Path, act: &Act) -> (Workbook, bool) {
    let (n_entries, mut book) = (book.entries().len(), book);
    match act {
        Act::Edits(edits) => drop(book.apply("act", edits)),
        Act::Outside(n) => {
            drop(book);
            let file = dir.join("dossier.toml");
            let text = fs::read_to_string(&file).unwrap();
            fs::write(&file, format!("# outside {n}, line {n_entries}\n{text}")).unwrap();
            book = opened(dir).0;
        }
    }
    let is_changed = book.entries().len() > n_entries;
    (book, is_changed)
}

/// Texts of dossier and marks after `acts` on a fresh dossier.
fn replayed(acts: &[Act]) -> (String, Vec<Pick>) {
    let dir = folder();
    let mut book = opened(dir.path()).0;
    for act in acts {
        book = done(book, dir.path(), act).0;
    }
    state(&book)
}

fn state(book: &Workbook) -> (String, Vec<Pick>) {
    (without_outside_numbers(&book.dossier().text), book.picks("side").to_vec())
}

/// The comments from outside name the line of the day book, which differs on a fresh dossier.
fn without_outside_numbers(text: &str) -> String {
    let told = |line: &str| line.split(", line ").next().unwrap_or_default().to_owned() + "\n";
    text.lines()
        .map(|line| if line.starts_with("# outside") { told(line) } else { format!("{line}\n") })
        .collect()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(32))]
    #[test]
    fn what_stands_is_what_was_done(steps in prop::collection::vec(step(), 1..24)) {
        let dir = folder();
        let mut book = opened(dir.path()).0;
        let (mut acts, mut standing): (Vec<Act>, usize) = (Vec::new(), 0);
        for step in steps {
            match step {
                Step::Act(act) => {
                    let is_changed;
                    (book, is_changed) = done(book, dir.path(), &act);
                    if is_changed {
                        acts.truncate(standing);
                        acts.push(act);
                        standing += 1;
                    }
                }
                Step::Undo => standing -= usize::from(book.undo().unwrap().is_some()),
                Step::Redo => standing += usize::from(book.redo().unwrap().is_some()),
                Step::Save => book.save().unwrap(),
                Step::Reopen => {
                    drop(book);
                    book = opened(dir.path()).0;
                }
            }
        }
        prop_assert_eq!(state(&book), replayed(&acts[..standing]));
        while book.redo().unwrap().is_some() {}
        prop_assert_eq!(state(&book), replayed(&acts));
        while book.undo().unwrap().is_some() {}
        book.save().unwrap();
        prop_assert_eq!(fs::read_to_string(dir.path().join("dossier.toml")).unwrap(), START);
        prop_assert!(!dir.path().join("picks/side.csv").exists());
    }
}
