//! How often the planned interval of the feed holds what the batch then needs.
#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use super::need_of;
use crate::book::{Balance, Book};
use crate::options::Settled;
use crate::route::route;
use crate::target::Target;
use secondmelt_quality::random::Random;
use secondmelt_record::facts::{Does, Form};

const LABS: u32 = 2000;

fn nothing_asked() -> Settled {
    Settled {
        spools: None,
        spool_g: None,
        spool_m: None,
        diameter_mm: None,
        material: None,
        printer: None,
        rates: Vec::new(),
        loads: Vec::new(),
        start: None,
        hours_a_day: 24.0,
        prints: Vec::new(),
    }
}

/// A lab with so many weighed runs of shredding, drying and extruding, and what its next batch needs
/// for a kilogram.
fn lab(random: &mut Random, runs: [usize; 3]) -> (Book, f64) {
    let mut book = Book::default();
    let mut needed_g = 1000.0;
    let stages = [(Does::Shred, 0.96, 0.01), (Does::Dry, 0.99, 0.003), (Does::Extrude, 0.91, 0.02)];
    for ((does, typical, sd), runs) in stages.into_iter().zip(runs) {
        let mut draw = || f64::min(typical * (sd * random.normal()).exp(), 1.0);
        for run in 0..runs {
            let share = draw();
            let balance = Balance {
                does: Some(does),
                in_g: 400.0,
                out_g: 400.0 * share,
                lost_g: 0.0,
                nil: false,
                not_weighed: false,
                share: Some(share),
                u_share: 0.0,
            };
            book.balances.insert(format!("{does}-{run}"), balance);
        }
        needed_g /= draw();
    }
    (book, needed_g)
}

#[test]
fn the_planned_interval_holds_what_the_batch_then_needs() {
    // As the documentation of the crate tells it.
    let told = [
        ([4, 4, 4], 95.2),
        ([3, 3, 3], 95.0),
        ([3, 6, 9], 95.5),
        ([12, 12, 12], 95.2),
        ([12, 12, 3], 94.0),
        ([2, 2, 2], 96.0),
        ([9, 6, 2], 95.6),
    ];
    for (seed, (runs, told)) in told.into_iter().enumerate() {
        let mut random = Random::new(seed as u64);
        let mut held = 0;
        for _ in 0..LABS {
            let (book, needed_g) = lab(&mut random, runs);
            let target = Target { material: None, grams: 1000.0, spools: None };
            let route = route(&book, None, &nothing_asked());
            let found = need_of(&target, Form::Waste, route.from(Does::Sort)).unwrap();
            let ends = found.low_g.unwrap().get()..=found.high_g.unwrap().get();
            held += u32::from(ends.contains(&needed_g));
        }
        let pct = 100.0 * f64::from(held) / f64::from(LABS);
        assert!((93.0..=97.0).contains(&pct), "{runs:?}: {pct}");
        assert!((pct - told).abs() < 0.051, "{runs:?}: {pct}, and {told} is told");
    }
}
