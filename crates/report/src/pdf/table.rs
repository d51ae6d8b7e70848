//! Tables: cells of paragraphs in columns, the heading again on each page, rows parted only where one alone is too high.

use super::page::{Composer, Heads, Role, What};
use super::text::{BODY, Ink, Line, Para, SOFT};

const GAP: f32 = 9.0;
const PAD: f32 = 3.2;

/// A column: its heading, and its share of the width.
pub(super) struct Head {
    pub(super) text: &'static str,
    pub(super) share: f32,
    pub(super) to_right: bool,
}

impl Head {
    pub(super) fn left(text: &'static str, share: f32) -> Self {
        Self { text, share, to_right: false }
    }

    pub(super) fn right(text: &'static str, share: f32) -> Self {
        Self { text, share, to_right: true }
    }
}

/// Paragraphs one below the other.
pub(super) type CellText = Vec<Para>;

/// Draws a table over the page's width. The first cell of a row is its heading.
pub(super) fn table(pages: &mut Composer, heads: &[Head], rows: &[Vec<CellText>]) {
    let places = places(pages, heads);
    let number = pages.n_tables;
    pages.n_tables += 1;
    let titles: Vec<Vec<Line>> = heads
        .iter()
        .zip(&places)
        .map(|(head, (_, width))| Para { to_right: head.to_right, ..Para::of(head.text, SOFT) }.lines(*width))
        .collect();
    let head_height = tallest(&titles) + 2.0 * PAD;
    let first = rows.first().map_or(0.0, |row| tallest(&laid(row, &places)));
    pages.keep(head_height + first.min(60.0) + PAD);
    let mut at = heading(pages, number, 0, (&titles, &places));
    for row in rows {
        let mut left = laid(row, &places);
        at += 1;
        let height = tallest(&left) + 2.0 * PAD;
        if height > pages.room() && (height <= pages.whole() - head_height || pages.room() < 60.0) {
            pages.turn();
            at = heading(pages, number, at, (&titles, &places)) + 1;
        }
        loop {
            left = cells(pages, (number, at), &places, left);
            if left.iter().all(Vec::is_empty) {
                break;
            }
            pages.turn();
            heading(pages, number, at, (&titles, &places));
        }
        let (x, y) = (pages.left(), pages.y());
        let to = (x + pages.width(), y);
        pages.draw(None, What::Rule { from: (x, y), to, width: 0.4, ink: Ink::Rule });
    }
}

/// Left edge and width of each column.
fn places(pages: &Composer, heads: &[Head]) -> Vec<(f32, f32)> {
    let all: f32 = heads.iter().map(|head| head.share).sum();
    let gaps = (1..heads.len()).fold(0.0, |gaps, _| gaps + GAP);
    let mut x = pages.left();
    heads
        .iter()
        .map(|head| {
            let width = (pages.width() - gaps) * head.share / all;
            let place = (x, width);
            x += width + GAP;
            place
        })
        .collect()
}

fn laid(row: &[CellText], places: &[(f32, f32)]) -> Vec<Vec<Line>> {
    let lines = |(cell, (_, width)): (&CellText, &(f32, f32))| {
        cell.iter().flat_map(|para| para.lines(*width)).collect()
    };
    row.iter().zip(places).map(lines).collect()
}

fn tallest(cells: &[Vec<Line>]) -> f32 {
    cells.iter().map(|cell| cell.iter().map(Line::height).sum()).fold(0.0, f32::max)
}

/// The row of headings; on a further page it only decorates for those who are read to.
fn heading(
    pages: &mut Composer,
    table: usize,
    row: usize,
    (titles, places): (&[Vec<Line>], &[(f32, f32)]),
) -> usize {
    pages.skip(PAD);
    let y = pages.y();
    for (lines, (x, width)) in titles.iter().zip(places) {
        let block = pages.block(Role::Cell { table, row, head: Some(Heads::Column) });
        let drop = tallest(titles) - lines.iter().map(Line::height).sum::<f32>();
        pages.lines(block, (*x, y + drop), *width, lines);
    }
    pages.skip(tallest(titles) + 0.6 * PAD);
    let (x, y) = (pages.left(), pages.y());
    let to = (x + pages.width(), y);
    pages.draw(None, What::Rule { from: (x, y), to, width: 0.8, ink: Ink::Black });
    row
}

/// Draws as many lines of each cell as the page holds; what is left over.
fn cells(
    pages: &mut Composer,
    (table, row): (usize, usize),
    places: &[(f32, f32)],
    cells: Vec<Vec<Line>>,
) -> Vec<Vec<Line>> {
    let room = (pages.room() - 2.0 * PAD).max(2.0 * BODY.size);
    let y = pages.y() + PAD;
    let mut deepest = 0.0_f32;
    let mut left = Vec::with_capacity(cells.len());
    for (at, (mut lines, (x, width))) in cells.into_iter().zip(places).enumerate() {
        let mut taken = 0.0;
        let fits = |line: &&Line| {
            taken += line.height();
            taken <= room
        };
        let n = lines.iter().take_while(fits).count();
        let rest = lines.split_off(n);
        if !lines.is_empty() {
            let head = (at == 0).then_some(Heads::Row);
            let block = pages.block(Role::Cell { table, row, head });
            deepest = deepest.max(pages.lines(block, (*x, y), *width, &lines));
        }
        left.push(rest);
    }
    pages.skip(deepest + 2.0 * PAD);
    left
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pdf::page::A4;

    #[test]
    fn a_row_higher_than_a_page_is_parted_and_the_heading_comes_again() {
        let mut pages = Composer::new(A4);
        let tall: CellText = (0..200).map(|n| Para::of(format!("gap {n}"), BODY)).collect();
        let rows = vec![vec![vec![Para::of("C1", BODY)], tall], vec![vec![Para::of("C2", BODY)], vec![]]];
        table(&mut pages, &[Head::left("Target", 1.0), Head::left("Gaps", 3.0)], &rows);
        assert!(pages.pages.len() >= 3, "{}", pages.pages.len());
        let texts: Vec<String> = pages
            .pages
            .iter()
            .flatten()
            .filter_map(|op| match &op.what {
                What::Text { y, line, .. } => {
                    assert!(*y < A4.height - 40.0, "{line:?}");
                    Some(line.runs[0].text.clone())
                }
                _ => None,
            })
            .collect();
        assert_eq!(texts.iter().filter(|text| text.starts_with("gap ")).count(), 200);
        assert_eq!(texts.iter().filter(|text| *text == "Target").count(), pages.pages.len());
    }
}
