//! Edits of the dossier in the terms of the form.

use filmgauge_daybook::{Edit, PathStep, Value};
use filmgauge_dossier::document::{LengthEntry, LengthPurpose, PlanePointEntry, SpacePointEntry};

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

/// A list.
pub(crate) fn list(values: Vec<Value>) -> Value {
    Value::Array(values.into_iter().collect())
}

/// A surveyed point of the plane.
pub(crate) fn point_in_plane(point: &PlanePointEntry) -> Value {
    let m: Value = point.m.into_iter().collect();
    inline(vec![("name", point.name.as_str().into()), ("px", place(point.px)), ("m", m)])
}

/// A surveyed point in space.
pub(crate) fn point_in_space(point: &SpacePointEntry) -> Value {
    let m: Value = point.m.into_iter().collect();
    inline(vec![("name", point.name.as_str().into()), ("px", place(point.px)), ("m", m)])
}

/// A known length.
pub(crate) fn known_length(length: &LengthEntry) -> Value {
    let mut values = vec![
        ("name", length.name.as_str().into()),
        ("from_px", place(length.from_px)),
        ("to_px", place(length.to_px)),
        ("length_m", length.length_m.into()),
        ("uncertainty_m", length.uncertainty_m.into()),
        ("uncertainty_px", length.uncertainty_px.into()),
    ];
    if length.purpose == LengthPurpose::Scale {
        values.push(("for", "scale".into()));
    }
    if length.plane_offset_m != 0.0 {
        values.push(("plane_offset_m", length.plane_offset_m.into()));
    }
    inline(values)
}

/// A point of the picture, to a thousandth of a pixel.
pub(crate) fn place(point: [f64; 2]) -> Value {
    Value::Array(point.into_iter().map(thousandths).collect())
}

/// To a thousandth.
pub(crate) fn thousandths(value: f64) -> f64 {
    (value * 1e3).round() / 1e3
}
