//! Shapes of a drawing and how they are written as SVG. Classes carry the meaning; colours are
//! in the style sheet, for light and dark.

use crate::html::escape::{attribute, text};
use std::fmt::Write;

/// Where a text stands from its place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Anchor {
    Start,
    Middle,
    End,
}

/// A shape. Texts are raw; writing makes them harmless.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Shape {
    /// A path in the language of SVG.
    Path {
        d: String,
        class: &'static str,
        title: String,
    },
    Rect {
        x: f64,
        y: f64,
        w: f64,
        h: f64,
        class: &'static str,
        title: String,
    },
    Circle {
        x: f64,
        y: f64,
        r: f64,
        class: &'static str,
        title: String,
    },
    Text {
        x: f64,
        y: f64,
        anchor: Anchor,
        class: &'static str,
        text: String,
    },
}

/// Shapes on an area of so many units.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Drawing {
    pub(crate) width: f64,
    pub(crate) height: f64,
    pub(crate) shapes: Vec<Shape>,
}

impl Drawing {
    pub(crate) fn new(width: f64, height: f64) -> Self {
        Self { width, height, shapes: Vec::new() }
    }

    pub(crate) fn line(&mut self, from: (f64, f64), to: (f64, f64), class: &'static str) {
        let d = format!("M{} {}L{} {}", n(from.0), n(from.1), n(to.0), n(to.1));
        self.path(d, class, "");
    }

    pub(crate) fn path(&mut self, d: String, class: &'static str, title: impl Into<String>) {
        if !d.is_empty() {
            self.shapes.push(Shape::Path { d, class, title: title.into() });
        }
    }

    /// A rectangle; `title` is what a pointer that rests on it is told.
    pub(crate) fn rect(
        &mut self,
        at: (f64, f64),
        size: (f64, f64),
        class: &'static str,
        title: impl Into<String>,
    ) {
        let ((x, y), (w, h)) = (at, (size.0.max(0.0), size.1.max(0.0)));
        self.shapes.push(Shape::Rect { x, y, w, h, class, title: title.into() });
    }

    pub(crate) fn circle(
        &mut self,
        at: (f64, f64),
        r: f64,
        class: &'static str,
        title: impl Into<String>,
    ) {
        self.shapes.push(Shape::Circle { x: at.0, y: at.1, r, class, title: title.into() });
    }

    pub(crate) fn text(
        &mut self,
        at: (f64, f64),
        anchor: Anchor,
        class: &'static str,
        text: impl Into<String>,
    ) {
        self.shapes.push(Shape::Text { x: at.0, y: at.1, anchor, class, text: text.into() });
    }

    /// The drawing as an element of a page; `id` sets its names apart from those of others.
    pub(crate) fn element(&self, id: usize, title: &str, description: &str) -> String {
        let mut out = format!(
            "<svg viewBox=\"0 0 {} {}\" role=\"img\" aria-labelledby=\"f{id}t f{id}d\"><title id=\"f{id}t\">{}</title><desc id=\"f{id}d\">{}</desc>\n",
            n(self.width),
            n(self.height),
            text(title),
            text(description)
        );
        for shape in &self.shapes {
            write(&mut out, shape);
        }
        out.push_str("</svg>");
        out
    }
}

fn write(out: &mut String, shape: &Shape) {
    let (start, class, title, end) = match shape {
        Shape::Path { d, class, title } => {
            (format!("<path d=\"{}\"", attribute(d)), class, title, "path")
        }
        Shape::Rect { x, y, w, h, class, title } => {
            let at =
                format!("x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\"", n(*x), n(*y), n(*w), n(*h));
            (format!("<rect {at}"), class, title, "rect")
        }
        Shape::Circle { x, y, r, class, title } => (
            format!("<circle cx=\"{}\" cy=\"{}\" r=\"{}\"", n(*x), n(*y), n(*r)),
            class,
            title,
            "circle",
        ),
        Shape::Text { x, y, anchor, class, text: content } => {
            let anchor = match anchor {
                Anchor::Start => "",
                Anchor::Middle => " text-anchor=\"middle\"",
                Anchor::End => " text-anchor=\"end\"",
            };
            let class =
                if class.is_empty() { String::new() } else { format!(" class=\"{class}\"") };
            let _ = writeln!(
                out,
                "<text x=\"{}\" y=\"{}\"{anchor}{class}>{}</text>",
                n(*x),
                n(*y),
                text(content)
            );
            return;
        }
    };
    out.push_str(&start);
    if !class.is_empty() {
        let _ = write!(out, " class=\"{class}\"");
    }
    if title.is_empty() {
        out.push_str("/>\n");
    } else {
        let _ = writeln!(out, "><title>{}</title></{end}>", text(title));
    }
}

/// A coordinate: a tenth of a unit is finer than what is seen.
pub(crate) fn n(x: f64) -> String {
    let text = crate::numbers::fixed(if x.is_finite() { x } else { 0.0 }, 1);
    text.strip_suffix(".0").map_or(text.clone(), str::to_owned)
}

/// About how wide a text is, at a size of 11 units.
pub(crate) fn width_of(text: &str) -> f64 {
    6.2 * unicode_width::UnicodeWidthStr::width(text) as f64
}

/// A text cut so that it is about so wide at the most.
pub(crate) fn fitted(text: &str, width: f64) -> String {
    if width_of(text) <= width {
        return text.to_owned();
    }
    let mut cut: String = text.to_owned();
    while !cut.is_empty() && width_of(&cut) + 6.2 > width {
        cut.pop();
    }
    cut + "\u{2026}"
}
