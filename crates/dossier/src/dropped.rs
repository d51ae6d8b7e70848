//! Items of a list that the form has no place for: a place in a picture has two numbers, and a third says that something else
//! was meant.

use crate::lines::Step;
use toml::Value;

/// The first list of `text` that the form took only in part: where it is, items that it has, items that were taken.
pub(crate) type Dropped<'a> = (Vec<Step<'a>>, usize, usize);

/// Holds what a person wrote against what was taken of it.
pub(crate) fn dropped<'a>(written: &'a Value, taken: &Value) -> Option<Dropped<'a>> {
    let mut path = Vec::new();
    let (has, took) = in_value(written, taken, &mut path)?;
    Some((path, has, took))
}

/// Leaves the way to the list in `path`.
fn in_value<'a>(written: &'a Value, taken: &Value, path: &mut Vec<Step<'a>>) -> Option<(usize, usize)> {
    let mut within = |step: Step<'a>, written: &'a Value, taken: &Value| {
        path.push(step);
        let found = in_value(written, taken, path);
        if found.is_none() {
            path.pop();
        }
        found
    };
    match (written, taken) {
        (Value::Table(written), Value::Table(taken)) => {
            written.iter().find_map(|(key, written)| within(Step::Key(key), written, taken.get(key)?))
        }
        (Value::Array(written), Value::Array(taken)) if written.len() > taken.len() => {
            Some((written.len(), taken.len()))
        }
        (Value::Array(written), Value::Array(taken)) => {
            let pairs = written.iter().zip(taken).enumerate();
            pairs.into_iter().find_map(|(index, (written, taken))| within(Step::Item(index), written, taken))
        }
        _ => None,
    }
}
