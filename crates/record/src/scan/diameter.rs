//! Reading the one kind that comes by the million.

use crate::facts::Diameter;
use crate::quantity::{Number, SizeMm};
use crate::text::Name;
use std::marker::PhantomData;

/// Reads a diameter record of a common shape: flat, no escapes, plain numbers. None
/// means "not that shape", never "wrong".
#[must_use]
#[inline]
pub fn diameter(line: &str) -> Option<Diameter<'_>> {
    let mut found = Found::default();
    let mut at = Cursor { text: line, bytes: line.as_bytes(), i: 0 };
    if found.in_order(&mut at).is_none() {
        found = Found::default();
        at.i = 0;
        found.in_any_order(&mut at)?;
    }
    // White space as JSON has it, which is less than what ASCII calls so.
    let blank = |b: &u8| matches!(b, b' ' | b'\t' | b'\n' | b'\r');
    if !at.bytes[at.i..].iter().all(blank) {
        return None;
    }
    found.record()
}

/// The values of a diameter record as they are found.
#[derive(Default)]
struct Found<'a> {
    kind: Option<&'a str>,
    lot: Option<&'a str>,
    gauge: Option<&'a str>,
    position_m: Option<f64>,
    time_s: Option<f64>,
    dx_mm: Option<f64>,
    dy_mm: Option<f64>,
    dz_mm: Option<f64>,
}

impl<'a> Found<'a> {
    /// Fields in the order in which secondmelt writes them, without a space: whole
    /// runs of punctuation are compared at once.
    #[inline(always)]
    fn in_order(&mut self, at: &mut Cursor<'a>) -> Option<()> {
        at.key(b"{\"kind\":\"diameter\",\"lot\":").then_some(())?;
        self.kind = Some("diameter");
        at.text(&mut self.lot)?;
        if at.key(b",\"position_m\":") {
            at.decimal(&mut self.position_m)?;
        }
        if at.key(b",\"time_s\":") {
            at.decimal(&mut self.time_s)?;
        }
        at.key(b",\"dx_mm\":").then_some(())?;
        at.decimal(&mut self.dx_mm)?;
        if at.key(b",\"dy_mm\":") {
            at.decimal(&mut self.dy_mm)?;
        }
        if at.key(b",\"dz_mm\":") {
            at.decimal(&mut self.dz_mm)?;
        }
        if at.key(b",\"gauge\":") {
            at.text(&mut self.gauge)?;
        }
        at.expect(b'}')
    }

    /// Fields in any order, spaces allowed.
    fn in_any_order(&mut self, at: &mut Cursor<'a>) -> Option<()> {
        at.expect(b'{')?;
        loop {
            at.space();
            at.expect(b'"')?;
            if at.key(b"position_m\"") {
                at.number(&mut self.position_m)?;
            } else if at.key(b"dx_mm\"") {
                at.number(&mut self.dx_mm)?;
            } else if at.key(b"dy_mm\"") {
                at.number(&mut self.dy_mm)?;
            } else if at.key(b"lot\"") {
                at.name(&mut self.lot)?;
            } else if at.key(b"kind\"") {
                at.name(&mut self.kind)?;
                (self.kind? == "diameter").then_some(())?;
            } else if at.key(b"time_s\"") {
                at.number(&mut self.time_s)?;
            } else if at.key(b"dz_mm\"") {
                at.number(&mut self.dz_mm)?;
            } else if at.key(b"gauge\"") {
                at.name(&mut self.gauge)?;
            } else {
                return None;
            }
            at.space();
            match at.next()? {
                b',' => {}
                b'}' => return Some(()),
                _ => return None,
            }
        }
    }

    /// The record, where it is whole and in range.
    #[inline(always)]
    fn record(self) -> Option<Diameter<'a>> {
        if self.kind? != "diameter" {
            return None;
        }
        let size = |x: Option<f64>| match x {
            Some(x) => SizeMm::new(x).map(Some),
            None => Some(None),
        };
        let number = |x: Option<f64>| match x {
            Some(x) => Number::new(x).map(Some),
            None => Some(None),
        };
        Some(Diameter {
            lot: Name::from(self.lot?),
            position_m: number(self.position_m)?,
            time_s: number(self.time_s)?,
            dx_mm: SizeMm::new(self.dx_mm?)?,
            dy_mm: size(self.dy_mm)?,
            dz_mm: size(self.dz_mm)?,
            gauge: self.gauge.map(Name::from),
            part: None,
            operator: None,
            trial: None,
            src: None,
            life: PhantomData,
        })
    }
}

struct Cursor<'a> {
    text: &'a str,
    bytes: &'a [u8],
    i: usize,
}

impl<'a> Cursor<'a> {
    #[inline(always)]
    fn next(&mut self) -> Option<u8> {
        let byte = *self.bytes.get(self.i)?;
        self.i += 1;
        Some(byte)
    }

    #[inline(always)]
    fn expect(&mut self, byte: u8) -> Option<()> {
        (self.next()? == byte).then_some(())
    }

    #[inline(always)]
    fn space(&mut self) {
        while let Some(b' ' | b'\t') = self.bytes.get(self.i) {
            self.i += 1;
        }
    }

    #[inline(always)]
    fn key(&mut self, key: &[u8]) -> bool {
        let found = self.bytes[self.i..].starts_with(key);
        if found {
            self.i += key.len();
        }
        found
    }

    #[inline(always)]
    fn colon(&mut self) -> Option<()> {
        self.space();
        self.expect(b':')?;
        self.space();
        Some(())
    }

    fn name(&mut self, slot: &mut Option<&'a str>) -> Option<()> {
        self.colon()?;
        self.text(slot)
    }

    fn number(&mut self, slot: &mut Option<f64>) -> Option<()> {
        self.colon()?;
        self.decimal(slot)
    }

    /// A text without escapes that starts with something visible.
    #[inline(always)]
    fn text(&mut self, slot: &mut Option<&'a str>) -> Option<()> {
        self.expect(b'"')?;
        let start = self.i;
        let rest = &self.bytes[start..];
        let length = rest.iter().position(|b| matches!(b, b'"' | b'\\' | 0..=0x1f))?;
        let visible = rest[0] > b' ' && rest[0] < 0x7f;
        let text = self.text.get(start..start + length)?;
        self.i += length;
        self.expect(b'"')?;
        (visible && !text.is_empty() && slot.replace(text).is_none()).then_some(())
    }

    /// A decimal number of at most fifteen digits without exponent: such a mantissa
    /// and its power of ten are exact doubles, so their quotient is rounded
    /// correctly (Clinger 1990, the fast path).
    #[inline(always)]
    fn decimal(&mut self, slot: &mut Option<f64>) -> Option<()> {
        let negative = self.bytes.get(self.i) == Some(&b'-');
        self.i += usize::from(negative);
        let start = self.i;
        let mut mantissa = 0_u64;
        self.digits(&mut mantissa);
        let whole = self.i - start;
        if whole == 0 || (whole > 1 && self.bytes[start] == b'0') {
            return None;
        }
        let mut decimals = 0;
        if self.bytes.get(self.i) == Some(&b'.') {
            self.i += 1;
            let point = self.i;
            self.digits(&mut mantissa);
            decimals = self.i - point;
            if decimals == 0 {
                return None;
            }
        }
        if whole + decimals > 15 || matches!(self.bytes.get(self.i), Some(b'e' | b'E')) {
            return None;
        }
        #[expect(clippy::cast_precision_loss, reason = "at most fifteen digits")]
        let size = mantissa as f64 / POWERS[decimals];
        slot.replace(if negative { -size } else { size }).is_none().then_some(())
    }

    #[inline(always)]
    fn digits(&mut self, mantissa: &mut u64) {
        let mut count = 0;
        for byte in &self.bytes[self.i..] {
            let digit = byte.wrapping_sub(b'0');
            if digit > 9 {
                break;
            }
            *mantissa = mantissa.wrapping_mul(10).wrapping_add(u64::from(digit));
            count += 1;
        }
        self.i += count;
    }
}

const POWERS: [f64; 16] =
    [1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15];
