//! Pages in the making: what is drawn where, in points from the top left, and what each piece is for those who do not
//! see it. Nothing here knows the file format.

use super::text::{Ink, Line, Para};

/// Size of the paper, points.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Paper {
    pub(super) width: f32,
    pub(super) height: f32,
}

/// ISO 216 A4, and the letter paper of ANSI/ASME Y14.1.
pub(super) const A4: Paper = Paper { width: 595.28, height: 841.89 };
pub(super) const LETTER: Paper = Paper { width: 612.0, height: 792.0 };
const SIDE: f32 = 40.0;
const TOP: f32 = 44.0;
const BOTTOM: f32 = 52.0;

/// What a piece is.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Role {
    Heading(u16, String),
    Text,
    /// A drawing, told in words.
    Figure(String),
    /// A cell: table, row, whether it heads its column or row.
    Cell {
        table: usize,
        row: usize,
        head: Option<Heads>,
    },
}

/// What a heading cell heads.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Heads {
    Column,
    Row,
}

/// Something drawn; `block` is its piece, `None` for what only decorates.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Op {
    pub(super) block: Option<usize>,
    pub(super) what: What,
}

/// What is drawn.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum What {
    /// A line of text from its left end on the base line.
    Text {
        x: f32,
        y: f32,
        line: Line,
    },
    Rule {
        from: (f32, f32),
        to: (f32, f32),
        width: f32,
        ink: Ink,
    },
    Drawing {
        x: f32,
        y: f32,
        width: f32,
        height: f32,
        svg: String,
    },
}

/// A place that a bookmark leads to.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Bookmark {
    pub(super) level: u16,
    pub(super) text: String,
    pub(super) page: usize,
    pub(super) y: f32,
}

/// Pages as far as they are filled.
pub(super) struct Composer {
    pub(super) paper: Paper,
    pub(super) pages: Vec<Vec<Op>>,
    pub(super) blocks: Vec<Role>,
    pub(super) bookmarks: Vec<Bookmark>,
    pub(super) n_tables: usize,
    y: f32,
}

impl Composer {
    pub(super) fn new(paper: Paper) -> Self {
        let pages = vec![Vec::new()];
        Self { paper, pages, blocks: Vec::new(), bookmarks: Vec::new(), n_tables: 0, y: TOP }
    }

    pub(super) fn left(&self) -> f32 {
        SIDE
    }

    /// Width between the margins.
    pub(super) fn width(&self) -> f32 {
        self.paper.width - 2.0 * SIDE
    }

    /// Height that is left on this page.
    pub(super) fn room(&self) -> f32 {
        self.paper.height - BOTTOM - self.y
    }

    /// Height of an empty page.
    pub(super) fn whole(&self) -> f32 {
        self.paper.height - BOTTOM - TOP
    }

    pub(super) fn y(&self) -> f32 {
        self.y
    }

    pub(super) fn skip(&mut self, height: f32) {
        self.y += height;
    }

    /// Space between parts: none at the top of a page.
    pub(super) fn part(&mut self, height: f32) {
        if self.y > TOP {
            self.y += height;
        }
    }

    /// Begins a page unless `height` fits on this one.
    pub(super) fn keep(&mut self, height: f32) {
        if height > self.room() && self.y > TOP {
            self.turn();
        }
    }

    /// Begins a page.
    pub(super) fn turn(&mut self) {
        self.pages.push(Vec::new());
        self.y = TOP;
    }

    /// A new piece; what is drawn as part of it names it.
    pub(super) fn block(&mut self, role: Role) -> usize {
        self.blocks.push(role);
        self.blocks.len() - 1
    }

    pub(super) fn draw(&mut self, block: Option<usize>, what: What) {
        if let Some(page) = self.pages.last_mut() {
            page.push(Op { block, what });
        }
    }

    /// Draws lines down from `(x, y)` within `width`; the height they took.
    pub(super) fn lines(&mut self, block: usize, (x, y): (f32, f32), width: f32, lines: &[Line]) -> f32 {
        let mut down = 0.0;
        for line in lines {
            let height = line.height();
            let from = if line.to_right { x + width - line.ink_width() } else { x };
            if !line.runs.is_empty() {
                let what = What::Text { x: from, y: y + down + 0.76 * height, line: line.clone() };
                self.draw(Some(block), what);
            }
            down += height;
        }
        down
    }

    /// A paragraph over the page's width, broken across pages where it must be.
    pub(super) fn para(&mut self, role: Role, para: &Para) {
        let (left, width) = (self.left(), self.width());
        let block = self.block(role);
        for line in para.lines(width) {
            self.keep(line.height());
            let y = self.y;
            self.y += self.lines(block, (left, y), width, &[line]);
        }
    }

    /// A heading with a bookmark, kept together with `below` points of what follows.
    pub(super) fn heading(&mut self, level: u16, text: &str, para: &Para, below: f32) {
        let height: f32 = para.lines(self.width()).iter().map(Line::height).sum();
        self.keep(height + below);
        let page = self.pages.len() - 1;
        self.bookmarks.push(Bookmark { level, text: text.to_owned(), page, y: self.y });
        self.para(Role::Heading(level, text.to_owned()), para);
    }
}
