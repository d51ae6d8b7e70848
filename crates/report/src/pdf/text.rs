//! Text in lines: runs of words in a face, size and grey, broken at spaces so that no line is wider than its place.

use super::fonts::{Face, known};

/// How letters look.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Style {
    pub(super) face: Face,
    pub(super) size: f32,
    pub(super) ink: Ink,
}

/// Colours of the page, red, green and blue.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Ink {
    Black,
    Soft,
    Accent,
    Alarm,
    Rule,
}

impl Ink {
    pub(super) fn rgb(self) -> [u8; 3] {
        match self {
            Self::Black => [0x1c, 0x22, 0x26],
            Self::Soft => [0x50, 0x5a, 0x61],
            Self::Accent => [0x0b, 0x5d, 0x66],
            Self::Alarm => [0x8f, 0x34, 0x00],
            Self::Rule => [0xc9, 0xcc, 0xc5],
        }
    }
}

/// Body text.
pub(super) const BODY: Style = Style { face: Face::Plain, size: 8.4, ink: Ink::Black };
pub(super) const SOFT: Style = Style { ink: Ink::Soft, ..BODY };
pub(super) const STRONG: Style = Style { face: Face::Bold, ..BODY };
pub(super) const ALARM: Style = Style { face: Face::Bold, ink: Ink::Alarm, ..BODY };
pub(super) const SMALL: Style = Style { size: 7.0, ..SOFT };
/// Line to line, as a multiple of the size.
pub(super) const LEADING: f32 = 1.32;

/// A text in one style.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Run {
    pub(super) text: String,
    pub(super) style: Style,
}

/// A paragraph in the making.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Para {
    pub(super) runs: Vec<Run>,
    pub(super) to_right: bool,
}

impl Para {
    pub(super) fn of(text: impl AsRef<str>, style: Style) -> Self {
        Self::default().and(text, style)
    }

    /// The same with more behind it.
    pub(super) fn and(mut self, text: impl AsRef<str>, style: Style) -> Self {
        self.runs.push(Run { text: known(text.as_ref()), style });
        self
    }

    /// Set at the right edge.
    pub(super) fn right(self) -> Self {
        Self { to_right: true, ..self }
    }

    /// Lines of at most `width`.
    pub(super) fn lines(&self, width: f32) -> Vec<Line> {
        let mut lines = Vec::new();
        let mut line = Line { to_right: self.to_right, ..Line::default() };
        for (run, word) in self.runs.iter().flat_map(|run| words(&run.text).map(move |word| (run, word))) {
            let style = run.style;
            let reach = line.width + style.face.width(word.trim_end(), style.size);
            if reach > width && line.width > 0.0 && !word.trim().is_empty() {
                lines.push(std::mem::replace(&mut line, Line { to_right: self.to_right, ..Line::default() }));
            }
            let mut rest = word;
            while line.width == 0.0 && style.face.width(rest.trim_end(), style.size) > width {
                let at = fitting(rest, style, width);
                line.add(&rest[..at], style);
                lines.push(std::mem::replace(&mut line, Line { to_right: self.to_right, ..Line::default() }));
                rest = &rest[at..];
            }
            line.add(rest, style);
        }
        lines.push(line);
        lines
    }
}

/// Words with the space behind each; long ones also end at signs where a name may be parted.
fn words(text: &str) -> impl Iterator<Item = &str> {
    text.split_inclusive([' ', '/', '_'])
}

/// Where a word too long for a line is parted: at least one letter stays.
fn fitting(word: &str, style: Style, width: f32) -> usize {
    let mut taken = 0.0;
    for (at, letter) in word.char_indices() {
        taken += style.face.glyph(letter).map_or(0.0, |(_, width)| width * style.size);
        if taken > width && at > 0 {
            return at;
        }
    }
    word.len()
}

/// One line.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Line {
    pub(super) runs: Vec<Run>,
    pub(super) width: f32,
    pub(super) to_right: bool,
}

impl Line {
    fn add(&mut self, text: &str, style: Style) {
        if text.is_empty() || (self.runs.is_empty() && text.trim().is_empty()) {
            return;
        }
        self.width += style.face.width(text, style.size);
        match self.runs.last_mut() {
            Some(last) if last.style == style => last.text.push_str(text),
            _ => self.runs.push(Run { text: text.to_owned(), style }),
        }
    }

    /// Height from this line to the next.
    pub(super) fn height(&self) -> f32 {
        let largest = self.runs.iter().map(|run| run.style.size).fold(0.0, f32::max);
        LEADING * if largest > 0.0 { largest } else { BODY.size }
    }

    /// Width without the space at its end.
    pub(super) fn ink_width(&self) -> f32 {
        let space = self.runs.last().map_or(0.0, |run| {
            let spaces = run.text.len() - run.text.trim_end().len();
            run.style.face.width(&" ".repeat(spaces), run.style.size)
        });
        self.width - space
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_line_is_wider_than_its_place_and_no_word_is_lost() {
        let text = "Speed at contact of the car by its run-up, 10CVEHCG0000ACXP_and_more_of_it/and/more";
        for width in [30.0, 60.0, 200.0] {
            let lines = Para::of(text, BODY).and(" bold", STRONG).lines(width);
            assert!(lines.iter().all(|line| line.ink_width() <= width + 1e-3), "{lines:?}");
            let all: String = lines.iter().flat_map(|line| &line.runs).map(|run| run.text.as_str()).collect();
            assert_eq!(all.replace(' ', ""), format!("{text} bold").replace(' ', ""));
        }
        assert_eq!(Para::of("", BODY).lines(50.0).len(), 1);
    }
}
