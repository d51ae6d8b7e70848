//! Line numbers for places in a TOML text, so that every message about a dossier says where.

use std::ops::Range;
use toml::de::{DeTable, DeValue};

/// One step on the way to a value: a key, or the n-th item of an array.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Step<'a> {
    Key(&'a str),
    Item(usize),
}

/// Line (from 1) of the value at `path`, or of the deepest part of the path that exists.
pub(crate) fn line_of(text: &str, path: &[Step<'_>]) -> usize {
    let Ok(table) = DeTable::parse(text) else { return 1 };
    let mut span = 0..0;
    let mut value: Option<&DeValue<'_>> = None;
    for (depth, step) in path.iter().enumerate() {
        let next = match (step, depth, value) {
            (Step::Key(key), 0, _) => table.get_ref().get(*key),
            (Step::Key(key), _, Some(DeValue::Table(inner))) => inner.get(*key),
            (Step::Item(index), _, Some(DeValue::Array(items))) => items.get(*index),
            _ => None,
        };
        let Some(found) = next else { break };
        span = found.span();
        value = Some(found.get_ref());
    }
    line_at(text, &span)
}

/// Line (from 1) at which a byte range starts.
pub(crate) fn line_at(text: &str, span: &Range<usize>) -> usize {
    let start = span.start.min(text.len());
    text.as_bytes()[..start].iter().filter(|&&byte| byte == b'\n').count() + 1
}

#[cfg(test)]
mod tests {
    use super::{Step, line_of};

    #[test]
    fn finds_the_line_of_a_nested_value() {
        let text = "a = 1\n[[target]]\nid = \"A\"\n\n[[target]]\nid = \"B\"\nstart = { frame = 0,\n px = [1.0, 2.0] }\n";
        assert_eq!(line_of(text, &[Step::Key("target"), Step::Item(1), Step::Key("id")]), 6);
        assert_eq!(
            line_of(text, &[Step::Key("target"), Step::Item(1), Step::Key("start"), Step::Key("px")]),
            8
        );
        assert_eq!(line_of(text, &[Step::Key("target"), Step::Item(1), Step::Key("nothing")]), 5);
        assert_eq!(line_of(text, &[Step::Key("nothing")]), 1);
    }
}
