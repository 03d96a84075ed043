//! The ledger: what the scale showed, and what was keyed in.

use super::Trouble;
use super::chance::Chance;
use super::passes::steps;
use super::spools::Spool;
use super::story::{Clock, STOCK, STOCKTAKE, Slip, Step, Stream};

/// Standard deviation of a weighing on the bench scale, in tenths of a gram.
const SCALE_DG: f64 = 0.7;

/// A row of the ledger.
pub struct Weighing {
    /// Step.
    pub step: &'static str,
    /// Lot.
    pub lot: &'static str,
    /// Role.
    pub role: &'static str,
    /// Mass that was keyed in, in tenths of a gram; none where nobody weighed.
    pub mass_dg: Option<i64>,
    /// When.
    pub at: Clock,
}

/// Every row, in the order of time.
pub fn weighings(spools: &[Spool], chance: &mut Chance) -> Result<Vec<Weighing>, Trouble> {
    let steps = steps();
    let mut rows = Vec::new();
    for step in &steps {
        for stream in &step.streams {
            let truth = step.mass_dg(stream, spools)?;
            rows.push(Weighing {
                step: step.step,
                lot: stream.lot,
                role: stream.role,
                mass_dg: keyed(stream, truth, chance)?,
                at: step.at,
            });
        }
    }
    for lot in STOCK {
        let mass = stock_dg(lot, &steps, spools)?;
        let mass_dg = Some(shown(mass, chance)?);
        let at = steps.last().ok_or("the story has no step")?.at;
        rows.push(Weighing { step: STOCKTAKE, lot, role: "stock", mass_dg, at });
    }
    Ok(rows)
}

/// What the scale shows for a true mass.
fn shown(mass_dg: i64, chance: &mut Chance) -> Result<i64, Trouble> {
    if mass_dg <= 0 {
        return Err(format!("the story leaves a mass of {mass_dg} tenths of a gram").into());
    }
    Ok(mass_dg + (chance.normal() * SCALE_DG).round() as i64)
}

fn keyed(stream: &Stream, mass_dg: i64, chance: &mut Chance) -> Result<Option<i64>, Trouble> {
    let shown = shown(mass_dg, chance)?;
    Ok(match stream.slip {
        Slip::None => Some(shown),
        Slip::MisKeyed => Some(swapped(shown)),
        Slip::NotWeighed => None,
    })
}

/// A mass whose digits of tens and of single grams have changed places.
fn swapped(mass_dg: i64) -> i64 {
    let (tens, ones) = (mass_dg / 100 % 10, mass_dg / 10 % 10);
    mass_dg + (ones - tens) * 100 + (tens - ones) * 10
}

/// What is left of a lot: made less used.
fn stock_dg(lot: &str, steps: &[Step], spools: &[Spool]) -> Result<i64, Trouble> {
    let mut left = 0;
    for step in steps {
        for stream in step.streams.iter().filter(|s| s.lot == lot) {
            let mass = step.mass_dg(stream, spools)?;
            left += match stream.role {
                "in" => -mass,
                "out" => mass,
                _ => 0,
            };
        }
    }
    Ok(left)
}
