//! Edits of the dossier in the terms of the form.

use filmgauge_daybook::{Edit, PathStep, Value};

/// A place in the dossier: keys and numbers of items.
pub(crate) fn path(steps: &[Step<'_>]) -> Vec<PathStep> {
    let step = |step: &Step<'_>| match step {
        Step::Key(key) => PathStep::Key((*key).to_owned()),
        Step::Item(index) => PathStep::Item(*index),
    };
    steps.iter().map(step).collect()
}

/// One step of a place.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Step<'a> {
    /// A key.
    Key(&'a str),
    /// The n-th item.
    Item(usize),
}

/// Sets a key of the n-th `[[table]]`; a key within is written `outer.inner`.
pub(crate) fn set(table: &str, index: usize, key: &str, value: impl Into<Value>) -> Edit {
    Edit::Set { path: keyed(table, index, key), value: value.into() }
}

/// Takes a key of the n-th `[[table]]` away.
pub(crate) fn clear(table: &str, index: usize, key: &str) -> Edit {
    Edit::Remove { path: keyed(table, index, key) }
}

fn keyed(table: &str, index: usize, key: &str) -> Vec<PathStep> {
    let mut steps = vec![Step::Key(table), Step::Item(index)];
    steps.extend(key.split('.').map(Step::Key));
    path(&steps)
}

/// Sets a key of `[test]`.
pub(crate) fn set_test(key: &str, value: impl Into<Value>) -> Edit {
    Edit::Set { path: path(&[Step::Key("test"), Step::Key(key)]), value: value.into() }
}

/// Takes the n-th `[[table]]` away.
pub(crate) fn remove(table: &str, index: usize) -> Edit {
    Edit::Remove { path: path(&[Step::Key(table), Step::Item(index)]) }
}

/// Adds a `[[table]]`.
pub(crate) fn append(table: &str, values: Vec<(&str, Value)>) -> Edit {
    let values = values.into_iter().map(|(key, value)| (key.to_owned(), value)).collect();
    Edit::Append { table: table.to_owned(), values }
}

/// An inline table.
pub(crate) fn inline(values: Vec<(&str, Value)>) -> Value {
    Value::InlineTable(values.into_iter().collect())
}

/// A point of the picture, to a thousandth of a pixel.
pub(crate) fn place(point: [f64; 2]) -> Value {
    Value::Array(point.into_iter().map(thousandths).collect())
}

/// To a thousandth.
pub(crate) fn thousandths(value: f64) -> f64 {
    (value * 1e3).round() / 1e3
}
