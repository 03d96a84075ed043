//! Readings that came before it was known for which machines a spool is meant.

use crate::reading::Reading;
use secondmelt_record::facts::Diameter;
use secondmelt_record::{Name, Number, Positive};
use std::marker::PhantomData;

/// How many are kept; of more, only the number is known.
const KEPT: usize = 1000;

/// Such readings, in order.
#[derive(Debug, Default)]
pub struct Early {
    kept: Vec<Kept>,
    /// Readings that were not kept.
    pub more: u64,
}

#[derive(Debug)]
struct Kept {
    place: (Option<Number>, Option<Number>),
    dx_mm: Positive,
    min_mm: f64,
    max_mm: f64,
    number: u64,
    half_gap_m: f64,
    direction: f64,
}

impl Early {
    /// Keeps a reading.
    pub fn push(&mut self, reading: &Reading<'_, '_>) {
        if self.kept.len() == KEPT {
            self.more += 1;
            return;
        }
        self.kept.push(Kept {
            place: reading.place(),
            dx_mm: reading.record.dx_mm,
            min_mm: reading.min_mm,
            max_mm: reading.max_mm,
            number: reading.number,
            half_gap_m: reading.half_gap_m,
            direction: reading.direction,
        });
    }

    /// Gives the readings back, each as it was taken.
    pub fn replay(&self, lot: &str, mut take: impl FnMut(&Reading<'_, '_>)) {
        for kept in &self.kept {
            let record = Diameter {
                lot: Name::from(lot),
                position_m: kept.place.0,
                time_s: kept.place.1,
                dx_mm: kept.dx_mm,
                dy_mm: None,
                dz_mm: None,
                gauge: None,
                part: None,
                operator: None,
                trial: None,
                src: None,
                life: PhantomData,
            };
            take(&Reading {
                record: &record,
                min_mm: kept.min_mm,
                max_mm: kept.max_mm,
                number: kept.number,
                half_gap_m: kept.half_gap_m,
                direction: kept.direction,
            });
        }
    }
}
