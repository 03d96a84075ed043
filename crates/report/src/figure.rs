//! Drawings of a report: what is drawn, apart from any format. Behind each stands a table or
//! a list that says the same in words.

pub(crate) mod axes;
pub(crate) mod chart;
pub(crate) mod family;
pub(crate) mod histogram;
pub(crate) mod layers;
pub(crate) mod mass;
pub(crate) mod passes;
pub(crate) mod scale;
pub(crate) mod shares;
pub(crate) mod svg;
pub(crate) mod trace;
pub(crate) mod trials;
pub(crate) mod waves;

use svg::Drawing;

/// A drawing with its words.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Figure {
    /// What it shows, in a few words.
    pub(crate) title: String,
    /// What is to be seen in it, in sentences, for those who do not see it.
    pub(crate) description: String,
    /// How to read it: what its signs mean.
    pub(crate) caption: String,
    pub(crate) drawing: Drawing,
    /// Whether it is a network with many names, which must not become smaller than it is.
    pub(crate) network: bool,
}
