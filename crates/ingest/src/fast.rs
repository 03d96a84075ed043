//! The short way for the row that comes by the million: checked and written in one
//! pass from left to right. Whatever is not plain is left to the general way, and
//! where this one answers, it answers the same (a property test holds one to the other).

use crate::cell::{Cell, Reading};
use crate::number::Decimal;
use crate::plan::{Plan, Slot};
use secondmelt_record::shape::Range;
use secondmelt_record::units::Scale;

/// Room for one record.
const ROW: usize = 1024;
/// Room for what stands before a number.
const KEY: usize = 32;
/// Longest number, its end included.
const NUMBER: usize = 16;
/// Longest name that is remembered, with what stands before it.
const NAME: usize = 128;

/// Sixteen times one byte.
const fn all(byte: u8) -> u128 {
    u128::from_le_bytes([byte; 16])
}

/// What is done with a column.
enum Lane {
    /// Nothing.
    Skip,
    /// A number is checked and copied.
    Number(NumberLane),
    /// Text that is not empty is copied; most often it is that of the row before.
    Name(NameLane),
}

struct NumberLane {
    key: [u8; KEY],
    key_length: usize,
    /// What must not be zero, so that the number is in range.
    above: Above,
    required: bool,
    /// How many places the point moves to the left (3 from micrometre to millimetre).
    shift: usize,
}

/// What of a number must not be zero.
#[derive(Clone, Copy, PartialEq)]
enum Above {
    /// Nothing.
    None,
    /// The number.
    Zero,
    /// What stands before its point, where a number in range may be small but not ever so small: those
    /// below one, which are rare, take the general way.
    One,
}

struct NameLane {
    key: Vec<u8>,
    /// The cell of the row before, with the delimiter that ended it.
    cell: Vec<u8>,
    /// What was written for it.
    written: Vec<u8>,
}

/// The short way for a table.
pub(crate) struct Fast {
    lanes: Vec<Lane>,
    /// The start of every record stands in it from the beginning.
    row: Box<[u8; ROW]>,
    prefix: usize,
    /// Length of the record in it.
    length: usize,
    delimiter: u8,
    decimal: u8,
}

impl Fast {
    /// The short way for a table, where there is one.
    pub(crate) fn new(plan: &Plan, reading: &Reading, delimiter: u8) -> Option<Self> {
        let flat = plan.open.is_empty() && plan.missing.is_empty() && !plan.src;
        let ordered = plan.slots.is_sorted_by(|a, b| a.column < b.column);
        let mut row = Box::new([0; ROW]);
        let prefix = plan.prefix.len();
        if !flat || !ordered || reading.style.thousands.is_some() || prefix > ROW / 4 {
            return None;
        }
        row.get_mut(..prefix)?.copy_from_slice(&plan.prefix);
        let slot = |column| plan.slots.iter().find(|s| s.column == column);
        let lanes = (0..plan.columns).map(|c| slot(c).map_or(Some(Lane::Skip), lane));
        let decimal = match reading.style.decimal {
            Decimal::Point => b'.',
            Decimal::Comma => b',',
        };
        Some(Self {
            lanes: lanes.collect::<Option<_>>()?,
            row,
            prefix,
            length: prefix,
            delimiter,
            decimal,
        })
    }

    /// The record of the row before the last call's answer.
    pub(crate) fn record(&self) -> &[u8] {
        self.row.get(..self.length).unwrap_or_default()
    }

    /// Puts the record together of the row that starts at `at`; where the next row
    /// starts, or none where the general way must be taken. The block is UTF-8.
    #[inline]
    pub(crate) fn row(&mut self, block: &[u8], at: usize) -> Option<usize> {
        let mut rest = block.get(at..)?;
        let mut length = self.prefix;
        let (last, others) = self.lanes.split_last_mut()?;
        for lane in others {
            let end = lane.take(rest, &mut self.row, &mut length, self.delimiter, self.decimal)?;
            if *rest.get(end)? != self.delimiter {
                return None;
            }
            rest = rest.get(end + 1..)?;
        }
        let mut end = last.take(rest, &mut self.row, &mut length, b'\n', self.decimal)?;
        if *rest.get(end)? == b'\r' {
            end += 1;
        }
        // A row of empty cells is no row.
        if *rest.get(end)? != b'\n' || length == self.prefix {
            return None;
        }
        self.row.get_mut(length..length + 2)?.copy_from_slice(b"}\n");
        self.length = length + 2;
        Some(block.len() - rest.len() + end + 1)
    }
}

fn lane(slot: &Slot) -> Option<Lane> {
    match &slot.cell {
        Cell::Number(range, scale) => Some(Lane::Number(NumberLane {
            key: padded(&slot.key)?,
            key_length: slot.key.len(),
            above: above(range)?,
            required: slot.required,
            shift: shift(scale)?,
        })),
        Cell::Name => Some(Lane::Name(NameLane {
            key: slot.key.clone(),
            cell: Vec::new(),
            written: Vec::new(),
        })),
        _ => None,
    }
}

fn padded(key: &[u8]) -> Option<[u8; KEY]> {
    let mut padded = [0; KEY];
    padded.get_mut(..key.len())?.copy_from_slice(key);
    Some(padded)
}

/// What must not be zero; none where a number of nine digits may be out of range for another reason.
fn above(range: &Range) -> Option<Above> {
    let above = match range.min {
        // One in a unit a thousand times smaller is still above.
        min if min > 0.0 && min < 1e-3 => Above::One,
        min if min == 0.0 && range.above_min => Above::Zero,
        min if min <= 0.0 => Above::None,
        _ => return None,
    };
    (range.max >= 1e9).then_some(above)
}

/// How many places a scale moves the point to the left; none where it does more.
fn shift(scale: &Scale) -> Option<usize> {
    let places = scale.denominator.checked_ilog10()?;
    let plain = scale.numerator == 1 && scale.shift_hundredths == 0 && places <= 3;
    (plain && 10_u64.pow(places) == scale.denominator).then_some(places as usize)
}

impl Lane {
    /// Takes the cell at the start of `rest`: writes it and says where it ends. What
    /// stands there is for the caller to check.
    #[inline(always)]
    fn take(
        &mut self,
        rest: &[u8],
        row: &mut [u8; ROW],
        length: &mut usize,
        end: u8,
        decimal: u8,
    ) -> Option<usize> {
        match self {
            Self::Number(lane) => lane.take(rest, row, length, decimal),
            Self::Name(lane) => lane.take(rest, row, length, end),
            Self::Skip => {
                let at = memchr::memchr3(end, b'\n', b'"', rest)?;
                (*rest.get(at)? != b'"').then_some(at)
            }
        }
    }
}

impl NumberLane {
    /// All bytes are looked at together: those that are no digits are found by the
    /// carry into the top bit of each.
    #[inline(always)]
    fn take(
        &self,
        rest: &[u8],
        row: &mut [u8; ROW],
        length: &mut usize,
        decimal: u8,
    ) -> Option<usize> {
        let chunk: &[u8; NUMBER] = rest.first_chunk()?;
        let digits = u128::from_le_bytes(*chunk) ^ all(b'0');
        let mut others = (((digits & all(0x7f)) + all(0x76)) | digits) & all(0x80);
        let whole = (others.trailing_zeros() / 8) as usize;
        let mut end = whole;
        let mut values = digits;
        if *chunk.get(whole)? == decimal {
            others &= others.wrapping_sub(1);
            end = (others.trailing_zeros() / 8) as usize;
            values &= !(0xff << (8 * whole));
            if end < whole + 2 || end >= NUMBER {
                return None;
            }
        }
        if end == 0 {
            return (!self.required).then_some(0);
        }
        let leading_zero = whole > 1 && chunk.first() == Some(&b'0');
        let looked_at = if self.above == Above::One { whole } else { end };
        let zero = values & ((1 << (8 * looked_at)) - 1) == 0;
        if whole == 0 || whole > 9 || leading_zero || (self.above != Above::None && zero) {
            return None;
        }
        let at = *length + self.key_length;
        row.get_mut(*length..*length + KEY)?.copy_from_slice(&self.key);
        let to = row.get_mut(at..at + 2 * NUMBER)?;
        *length = at + write(to, chunk, whole, end, self.shift)?;
        Some(end)
    }
}

/// Writes a number with its point moved; its length.
#[inline(always)]
fn write(
    to: &mut [u8],
    chunk: &[u8; NUMBER],
    whole: usize,
    end: usize,
    shift: usize,
) -> Option<usize> {
    to.get_mut(..NUMBER)?.copy_from_slice(chunk);
    if shift == 0 {
        if end > whole {
            *to.get_mut(whole)? = b'.';
        }
        return Some(end);
    }
    // 1750.5 is 1.7505: the digits before the point close up to those after it.
    let point = whole.checked_sub(shift).filter(|n| *n > 0)?;
    *to.get_mut(point)? = b'.';
    to.get_mut(point + 1..whole + 1)?.copy_from_slice(chunk.get(point..whole)?);
    Some(end.max(whole + 1))
}

impl NameLane {
    #[inline(always)]
    fn take(
        &mut self,
        rest: &[u8],
        row: &mut [u8; ROW],
        length: &mut usize,
        end: u8,
    ) -> Option<usize> {
        if self.cell.is_empty() || !rest.starts_with(&self.cell) {
            self.learn(rest, end)?;
        }
        let to = row.get_mut(*length..*length + self.written.len())?;
        to.copy_from_slice(&self.written);
        *length += self.written.len();
        Some(self.cell.len() - 1)
    }

    /// Remembers the name at the start of `rest`.
    #[cold]
    fn learn(&mut self, rest: &[u8], end: u8) -> Option<()> {
        let at = rest.iter().position(|b| *b == end || *b == b'\n')?;
        let cell = rest.get(..at)?;
        let cell = if end == b'\n' { cell.strip_suffix(b"\r").unwrap_or(cell) } else { cell };
        let text = std::str::from_utf8(cell).ok()?;
        let plain = |b: &u8| *b >= b' ' && !matches!(b, b'"' | b'\\');
        let trimmed = !text.is_empty() && text.trim() == text;
        if !trimmed || cell.len() + self.key.len() > NAME || !cell.iter().all(plain) {
            return None;
        }
        self.written = [&self.key, &b"\""[..], cell, b"\""].concat();
        self.cell = rest.get(..=cell.len())?.to_vec();
        Some(())
    }
}

#[cfg(test)]
#[path = "fast_test.rs"]
mod tests;
