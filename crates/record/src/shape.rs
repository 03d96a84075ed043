//! What a field may hold. Each field type says its [`Shape`] once; schemas, the
//! header matching of `ingest`, the messages of `problem` records and the column
//! tables of `report` are all worked out from it.

/// One field of a record kind.
#[derive(Debug, Clone, Copy)]
pub struct Field {
    /// Name in the record; the unit is its suffix.
    pub name: &'static str,
    /// Meaning, in plain words.
    pub doc: &'static str,
    /// Whether a record without it is a problem.
    pub required: bool,
    /// What it may hold.
    pub shape: Shape,
    /// Column headings of labs, in lower case, that mean this field.
    pub headings: &'static [&'static str],
}

impl Field {
    /// The documentation as one paragraph.
    #[must_use]
    pub fn text(&self) -> String {
        paragraph(self.doc)
    }
}

/// Doc comment lines as one paragraph.
#[must_use]
pub fn paragraph(doc: &str) -> String {
    doc.lines().map(str::trim).collect::<Vec<_>>().join(" ").trim().to_owned()
}

/// The largest count: up to here a double tells every whole number from the next
/// (RFC 8259, section 6, on interoperable integers).
pub const COUNT_MAX: u64 = (1 << 53) - 1;

/// What a field may hold.
#[derive(Debug, Clone, Copy)]
pub enum Shape {
    /// Any text.
    Text,
    /// Text that is not empty, nor all white space.
    Name,
    /// An instant, RFC 3339 with offset.
    Time,
    /// `true` or `false`.
    Flag,
    /// A finite number within a range.
    Number(Range),
    /// A whole number, smallest and largest.
    Count(u64, u64),
    /// One of these words.
    OneOf(&'static [&'static str]),
    /// An object of named numbers.
    Numbers,
    /// An object of named counts.
    Counts,
    /// A nested object.
    Object(&'static [Field]),
    /// A list.
    List(&'static Shape),
}

/// A range of numbers.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Range {
    /// Smallest value.
    pub min: f64,
    /// Whether `min` itself is outside.
    pub above_min: bool,
    /// Largest value, allowed.
    pub max: f64,
}

impl Range {
    /// Whether the number lies in the range. NaN never does.
    #[must_use]
    pub fn holds(&self, x: f64) -> bool {
        x <= self.max && if self.above_min { x > self.min } else { x >= self.min }
    }
}

impl std::fmt::Display for Range {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let low = if self.above_min { "above" } else { "from" };
        write!(f, "a number {low} {} to {}", self.min, self.max)
    }
}

impl std::fmt::Display for Shape {
    /// What was expected, for a message.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Text => f.write_str("text"),
            Self::Name => f.write_str("text that is not empty"),
            Self::Time => {
                f.write_str("a time like 2026-03-01T08:30:00+01:00 (RFC 3339 with offset)")
            }
            Self::Flag => f.write_str("true or false"),
            Self::Number(range) => range.fmt(f),
            Self::Count(min, COUNT_MAX) => write!(f, "a whole number from {min}"),
            Self::Count(min, max) => write!(f, "a whole number from {min} to {max}"),
            Self::OneOf(words) => write!(f, "one of: {}", words.join(", ")),
            Self::Numbers => f.write_str("an object of named numbers"),
            Self::Counts => f.write_str("an object of named counts"),
            Self::Object(fields) => {
                let names: Vec<_> = fields.iter().map(|f| f.name).collect();
                write!(f, "an object with {}", names.join(", "))
            }
            Self::List(of) => write!(f, "a list, each item {of}"),
        }
    }
}

/// A type that can stand in a record.
pub trait Shaped {
    /// What it may hold.
    const SHAPE: Shape;
}

impl Shaped for bool {
    const SHAPE: Shape = Shape::Flag;
}

impl<T: Shaped> Shaped for Vec<T> {
    const SHAPE: Shape = Shape::List(&T::SHAPE);
}
