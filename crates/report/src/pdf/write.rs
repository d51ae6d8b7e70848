//! Pages as a PDF file: PDF/A-2b (ISO 19005-2), tagged, with bookmarks. No clock and no chance: the same pages give the
//! same bytes.

use super::fonts::{Face, database};
use super::page::{Composer, Heads, Op, Role, What};
use super::text::{Ink, Line};
use crate::ReportError;
use krilla::configure::{Archival, ConfigurationBuilder};
use krilla::destination::XyzDestination;
use krilla::geom::{PathBuilder, Point, Size, Transform};
use krilla::metadata::{DateTime, Metadata};
use krilla::num::NormalizedF32;
use krilla::outline::{Outline, OutlineNode};
use krilla::page::PageSettings;
use krilla::paint::{Fill, FillRule, Stroke};
use krilla::surface::Surface;
use krilla::tagging::{
    ArtifactType, ContentTag, Identifier, Node, SpanTag, TableHeaderScope, Tag, TagGroup, TagTree,
};
use krilla::text::{Font, GlyphId, KrillaGlyph};
use krilla::{Document, SerializeSettings};
use krilla_svg::{SurfaceExt, SvgSettings};
use resvg::usvg;
use std::collections::BTreeMap;
use std::num::NonZeroU16;

const WHAT: &str = "the sheet as PDF";
/// The standard asks for a date; a true one would make each file another.
const FIXED_YEAR: u16 = 2000;

/// What stands in the file's metadata.
pub(super) struct About {
    pub(super) title: String,
    pub(super) subject: String,
    pub(super) program: String,
}

/// The file.
pub(super) fn written(pages: &Composer, about: &About) -> Result<Vec<u8>, ReportError> {
    let failed = |why: &dyn std::fmt::Debug| ReportError::make(WHAT, format!("{why:?}"));
    let configuration = ConfigurationBuilder::new()
        .with_archival_validator(Archival::A2_B)
        .finish()
        .map_err(|why| failed(&why))?;
    let settings = SerializeSettings { configuration, enable_tagging: true, ..SerializeSettings::default() };
    let mut document = Document::new_with(settings);
    let pens = Pens::new().ok_or_else(|| failed(&"a bundled font cannot be read"))?;
    let mut tagged: BTreeMap<usize, Vec<Identifier>> = BTreeMap::new();
    for ops in &pages.pages {
        let size = PageSettings::from_wh(pages.paper.width, pages.paper.height);
        let mut page = document.start_page_with(size.ok_or_else(|| failed(&"the paper has no size"))?);
        let mut surface = page.surface();
        pens.page(&mut surface, ops, &mut tagged).map_err(|why| failed(&why))?;
        surface.finish();
        page.finish();
    }
    document.set_metadata(
        Metadata::new()
            .title(about.title.clone())
            .description(about.subject.clone())
            .creator(about.program.clone())
            .producer(about.program.clone())
            .creation_date(DateTime::new(FIXED_YEAR).month(1).day(1))
            .language("en".to_owned()),
    );
    document.set_outline(outline(pages));
    document.set_tag_tree(tree(pages, tagged));
    document.finish().map_err(|why| failed(&why))
}

/// Fonts, and how drawings are read.
struct Pens {
    fonts: [Font; 2],
    options: usvg::Options<'static>,
}

impl Pens {
    fn new() -> Option<Self> {
        let font = |face: Face| Font::new(face.file().to_vec().into(), 0);
        let options = usvg::Options { fontdb: database(), ..usvg::Options::default() };
        Some(Self { fonts: [font(Face::Plain)?, font(Face::Bold)?], options })
    }

    /// Pieces that follow each other on the page are tagged once.
    fn page(
        &self,
        surface: &mut Surface<'_>,
        ops: &[Op],
        tagged: &mut BTreeMap<usize, Vec<Identifier>>,
    ) -> Result<(), String> {
        for group in ops.chunk_by(|one, other| one.block == other.block) {
            match group[0].block {
                Some(block) => {
                    let identifier = surface.start_tagged(ContentTag::Span(SpanTag::empty()));
                    tagged.entry(block).or_default().push(identifier);
                }
                None => {
                    let artifact = krilla::tagging::Artifact::with_kind(ArtifactType::Other);
                    surface.start_tagged(ContentTag::Artifact(artifact));
                }
            }
            let done = group.iter().try_for_each(|op| self.draw(surface, &op.what));
            surface.end_tagged();
            done?;
        }
        Ok(())
    }

    fn draw(&self, surface: &mut Surface<'_>, what: &What) -> Result<(), String> {
        match what {
            What::Text { x, y, line } => self.text(surface, *x, *y, line),
            What::Rule { from, to, width, ink } => {
                let mut path = PathBuilder::new();
                path.move_to(from.0, from.1);
                path.line_to(to.0, to.1);
                surface.set_fill(None);
                surface.set_stroke(Some(Stroke { paint: paint(*ink), width: *width, ..Stroke::default() }));
                path.finish().iter().for_each(|path| surface.draw_path(path));
                surface.set_stroke(None);
            }
            What::Drawing { x, y, width, height, svg } => {
                let tree = usvg::Tree::from_str(svg, &self.options).map_err(|why| why.to_string())?;
                let size = Size::from_wh(*width, *height).ok_or("a drawing has no size")?;
                surface.push_transform(&Transform::from_translate(*x, *y));
                let drawn = surface.draw_svg(&tree, size, SvgSettings::default());
                surface.pop();
                drawn.ok_or("a drawing could not be drawn")?;
            }
        }
        Ok(())
    }

    fn text(&self, surface: &mut Surface<'_>, x: f32, y: f32, line: &Line) {
        let mut from = x;
        for run in &line.runs {
            let style = run.style;
            let glyph = |(at, letter): (usize, char)| {
                let (glyph, width) = style.face.glyph(letter)?;
                let range = at..at + letter.len_utf8();
                Some(KrillaGlyph::new(GlyphId::new(u32::from(glyph)), width, 0.0, 0.0, 0.0, range, None))
            };
            let glyphs: Vec<KrillaGlyph> = run.text.char_indices().filter_map(glyph).collect();
            surface.set_stroke(None);
            surface.set_fill(Some(fill(style.ink)));
            let font = self.fonts[style.face as usize].clone();
            surface.draw_glyphs(Point::from_xy(from, y), &glyphs, font, &run.text, style.size, false);
            from += style.face.width(&run.text, style.size);
        }
    }
}

fn paint(ink: Ink) -> krilla::paint::Paint {
    let [red, green, blue] = ink.rgb();
    krilla::color::rgb::Color::new(red, green, blue).into()
}

fn fill(ink: Ink) -> Fill {
    Fill { paint: paint(ink), opacity: NormalizedF32::ONE, rule: FillRule::NonZero }
}

/// Bookmarks; those of a lower level hang under the one before.
fn outline(pages: &Composer) -> Outline {
    let mut outline = Outline::new();
    let mut open: Option<OutlineNode> = None;
    for mark in &pages.bookmarks {
        let place = XyzDestination::new(mark.page, Point::from_xy(0.0, (mark.y - 8.0).max(0.0)));
        let node = OutlineNode::new(mark.text.clone(), place);
        match &mut open {
            Some(above) if mark.level > 2 => above.push_child(node),
            _ => open.replace(node).into_iter().for_each(|before| outline.push_child(before)),
        }
    }
    open.into_iter().for_each(|last| outline.push_child(last));
    outline
}

/// The pieces in reading order: headings, paragraphs, figures, tables by rows.
fn tree(pages: &Composer, mut tagged: BTreeMap<usize, Vec<Identifier>>) -> TagTree {
    let mut tree = TagTree::new().with_lang(Some("en".to_owned()));
    let mut open: Option<OpenTable> = None;
    for (at, role) in pages.blocks.iter().enumerate() {
        let Some(identifiers) = tagged.remove(&at) else { continue };
        let children: Vec<Node> = identifiers.into_iter().map(Node::from).collect();
        if let Role::Cell { table, row, head } = role {
            if open.as_ref().is_none_or(|open| open.table != *table) {
                close(&mut tree, open.take());
            }
            let cell = match head {
                Some(Heads::Column) => TagGroup::with_children(Tag::TH(TableHeaderScope::Column), children),
                Some(Heads::Row) => TagGroup::with_children(Tag::TH(TableHeaderScope::Row), children),
                None => TagGroup::with_children(Tag::TD, children),
            };
            open.get_or_insert_with(|| OpenTable::new(*table)).add(*row, head.as_ref(), cell);
            continue;
        }
        close(&mut tree, open.take());
        tree.push(match role {
            Role::Heading(level, text) => {
                let level = NonZeroU16::new(*level).unwrap_or(NonZeroU16::MIN);
                TagGroup::with_children(Tag::Hn(level, Some(text.clone())), children)
            }
            Role::Figure(told) => TagGroup::with_children(Tag::Figure(Some(told.clone())), children),
            _ => TagGroup::with_children(Tag::P, children),
        });
    }
    close(&mut tree, open.take());
    tree
}

fn close(tree: &mut TagTree, table: Option<OpenTable>) {
    table.into_iter().for_each(|table| tree.push(table.done()));
}

/// A table whose rows are being gathered.
struct OpenTable {
    table: usize,
    rows: Vec<TagGroup>,
    /// Number of the row that cells are added to, and whether it is one of headings.
    row: Option<(usize, bool)>,
}

impl OpenTable {
    fn new(table: usize) -> Self {
        Self { table, rows: Vec::new(), row: None }
    }

    fn add(&mut self, row: usize, head: Option<&Heads>, cell: TagGroup) {
        let place = (row, head == Some(&Heads::Column));
        if self.row != Some(place) {
            self.rows.push(TagGroup::new(Tag::TR));
            self.row = Some(place);
        }
        if let Some(last) = self.rows.last_mut() {
            last.push(cell);
        }
    }

    fn done(self) -> TagGroup {
        TagGroup::with_children(Tag::Table, self.rows.into_iter().map(Node::from).collect())
    }
}
