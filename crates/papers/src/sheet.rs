//! The page model that HTML and PDF share: blocks in reading order, no places.

use crate::drawing::Drawing;
use std::collections::BTreeMap;

/// Paper of the printed sheet.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Paper {
    A4,
    Letter,
}

/// A sheet.
#[derive(Clone, Debug)]
pub(crate) struct Sheet {
    pub(crate) title: String,
    /// At the foot of every page.
    pub(crate) foot: String,
    pub(crate) paper: Paper,
    pub(crate) blocks: Vec<Block>,
    /// PNG files by the path the blocks name.
    pub(crate) pictures: BTreeMap<String, Vec<u8>>,
}

/// How a check or a table cell is marked.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Mark {
    Good,
    Look,
    Bad,
}

/// A table. Widths are relative; a cell may be marked.
#[derive(Clone, Debug, Default)]
pub(crate) struct Table {
    pub(crate) head: Vec<String>,
    pub(crate) widths: Vec<f32>,
    pub(crate) rows: Vec<Vec<Cell>>,
}

/// A cell of a table.
#[derive(Clone, Debug, Default)]
pub(crate) struct Cell {
    pub(crate) text: String,
    pub(crate) strong: bool,
    pub(crate) mark: Option<Mark>,
    /// An empty box to write in.
    pub(crate) to_fill: bool,
}

impl From<String> for Cell {
    fn from(text: String) -> Self {
        Self { text, ..Self::default() }
    }
}

impl From<&str> for Cell {
    fn from(text: &str) -> Self {
        text.to_owned().into()
    }
}

impl Cell {
    /// In bold.
    pub(crate) fn strong(text: impl Into<String>) -> Self {
        Self { text: text.into(), strong: true, ..Self::default() }
    }

    /// A box to write in.
    pub(crate) fn to_fill() -> Self {
        Self { to_fill: true, ..Self::default() }
    }
}

/// What can stand beside a text.
#[derive(Clone, Debug)]
pub(crate) enum Picture {
    /// One of the sheet's PNG files, by path.
    Png(String),
    /// A line drawing.
    Drawing(Drawing),
}

/// A block of a sheet.
#[derive(Clone, Debug)]
pub(crate) enum Block {
    /// The title of the whole sheet with a line below it.
    Title { text: String, below: String },
    /// A section.
    Heading(String),
    /// A small heading inside a block.
    Label(String),
    /// The head of a step.
    Step { number: usize, title: String, when: String },
    /// A paragraph.
    Text(String),
    /// Sentences to tick off.
    Ticks(Vec<String>),
    /// Plain points.
    Points(Vec<String>),
    /// Names and values.
    Facts(Vec<(String, String)>),
    /// A table.
    Table(Table),
    /// What to beware of; `strong` for what stops the work.
    Caution { strong: bool, lines: Vec<String> },
    /// A picture to the right of blocks; `share` of the width goes to the picture.
    Beside { picture: Picture, caption: String, share: f32, blocks: Vec<Block> },
    /// A line drawing.
    Drawing { drawing: Drawing, caption: String },
    /// What follows starts on a new page.
    NewPage,
}
