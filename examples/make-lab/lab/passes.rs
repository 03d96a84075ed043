//! The three passes, step by step.

use super::story::Mass::{Of, Rest, Wound};
use super::story::{Clock, Mass, STOCKTAKE, Slip, Step, Stream};

fn stream(lot: &'static str, role: &'static str, mass: Mass) -> Stream {
    Stream { lot, role, mass, slip: Slip::None }
}

fn slipped(lot: &'static str, role: &'static str, mass: Mass, slip: Slip) -> Stream {
    Stream { lot, role, mass, slip }
}

fn step(
    step: &'static str,
    does: &'static str,
    at: Clock,
    (machine, settings): (&'static str, [f64; 4]),
    energy: u32,
    streams: Vec<Stream>,
) -> Step {
    Step { step, does, at, machine, settings, energy, streams }
}

const IDLE: [f64; 4] = [0.0; 4];
const THIN: (&str, [f64; 4]) = ("extruder", [15.0, 4.5, 235.0, 0.0]);
const COOLER: (&str, [f64; 4]) = ("extruder", [15.0, 4.5, 230.0, 0.0]);
const THICK: (&str, [f64; 4]) = ("extruder", [15.0, 1.7, 235.0, 0.0]);
const EASY: (&str, [f64; 4]) = ("printer-easy", [0.0, 0.0, 240.0, 75.0]);
const WIDE: (&str, [f64; 4]) = ("printer-wide", [0.0, 0.0, 245.0, 80.0]);
const SHREDDER: (&str, [f64; 4]) = ("shredder", IDLE);
const DRYER: (&str, [f64; 4]) = ("dryer", IDLE);
const BENCH: (&str, [f64; 4]) = ("", IDLE);

/// Every step of the three passes, in the order of time.
pub fn steps() -> Vec<Step> {
    let mut steps = first_pass();
    steps.extend(second_pass());
    steps.extend(third_pass());
    steps.push(step(STOCKTAKE, "other", (6, 1, 16, 0), BENCH, 0, Vec::new()));
    steps
}

fn first_pass() -> Vec<Step> {
    vec![
        step(
            "p1-sort",
            "sort",
            (3, 2, 8, 40),
            BENCH,
            0,
            vec![
                stream("housings-1", "in", Rest),
                stream("sorted-1", "out", Of(7015)),
                stream("housings-1", "scrap", Of(469)),
            ],
        ),
        step(
            "p1-wash",
            "wash",
            (3, 2, 10, 5),
            BENCH,
            4,
            vec![
                stream("sorted-1", "in", Of(7015)),
                stream("washed-1", "out", Rest),
                stream("sorted-1", "dust", Of(187)),
            ],
        ),
        step(
            "p1-shred",
            "shred",
            (3, 3, 9, 0),
            SHREDDER,
            3,
            vec![
                stream("washed-1", "in", Of(6828)),
                stream("print-scrap-0", "in", Of(1125)),
                stream("regrind-1", "out", Rest),
                stream("regrind-1", "fines", Of(213)),
                stream("regrind-1", "dust", Of(22)),
            ],
        ),
        step(
            "p1-dry",
            "dry",
            (3, 3, 14, 0),
            DRYER,
            12,
            vec![
                stream("regrind-1", "in", Of(7718)),
                stream("dried-1", "out", Rest),
                stream("regrind-1", "water", Of(15)),
            ],
        ),
        step(
            "p1-extrude-a",
            "extrude",
            (3, 4, 8, 30),
            THIN,
            6,
            vec![
                stream("dried-1", "in", Rest),
                stream("spool-1a", "out", Wound),
                stream("dried-1", "purge", Of(142)),
                stream("dried-1", "scrap", Of(225)),
            ],
        ),
        step(
            "p1-extrude-b",
            "extrude",
            (3, 4, 11, 0),
            THICK,
            6,
            vec![
                stream("dried-1", "in", Rest),
                stream("spool-1b", "out", Wound),
                stream("dried-1", "purge", Of(98)),
                stream("dried-1", "scrap", Of(181)),
            ],
        ),
        step(
            "p1-print-a",
            "print",
            (3, 9, 9, 0),
            EASY,
            21,
            vec![
                stream("spool-1a", "in", Of(3182)),
                stream("parts-1a", "out", Of(2714)),
                stream("print-scrap-1a", "scrap", Rest),
            ],
        ),
        step(
            "p1-print-b",
            "print",
            (3, 10, 9, 0),
            WIDE,
            19,
            vec![
                stream("spool-1b", "in", Of(3015)),
                stream("parts-1b", "out", Of(2583)),
                stream("print-scrap-1b", "scrap", Rest),
            ],
        ),
    ]
}

fn second_pass() -> Vec<Step> {
    vec![
        step(
            "p2-shred",
            "shred",
            (4, 13, 9, 10),
            SHREDDER,
            3,
            vec![
                stream("parts-1a", "in", Of(2714)),
                stream("parts-1b", "in", Of(2583)),
                stream("print-scrap-1a", "in", Of(468)),
                stream("print-scrap-1b", "in", Of(432)),
                slipped("regrind-2", "out", Of(5862), Slip::MisKeyed),
                stream("regrind-2", "fines", Of(299)),
                stream("regrind-2", "dust", Rest),
            ],
        ),
        step(
            "p2-dry",
            "dry",
            (4, 13, 13, 30),
            DRYER,
            12,
            vec![
                stream("regrind-2", "in", Of(5862)),
                stream("dried-2", "out", Rest),
                stream("regrind-2", "water", Of(11)),
            ],
        ),
        step(
            "p2-extrude-a",
            "extrude",
            (4, 14, 8, 30),
            THIN,
            5,
            vec![
                stream("dried-2", "in", Rest),
                stream("spool-2a", "out", Wound),
                stream("dried-2", "purge", Of(131)),
                stream("dried-2", "scrap", Of(196)),
            ],
        ),
        step(
            "p2-extrude-b",
            "extrude",
            (4, 14, 10, 45),
            COOLER,
            5,
            vec![
                stream("dried-2", "in", Rest),
                stream("spool-2b", "out", Wound),
                stream("spool-2c", "out", Wound),
                stream("dried-2", "purge", Of(88)),
                stream("dried-2", "scrap", Of(74)),
            ],
        ),
        step(
            "p2-print-a",
            "print",
            (4, 20, 9, 0),
            EASY,
            17,
            vec![
                stream("spool-2a", "in", Of(2410)),
                stream("parts-2a", "out", Of(2049)),
                stream("print-scrap-2a", "scrap", Rest),
            ],
        ),
        step(
            "p2-print-b",
            "print",
            (4, 21, 9, 0),
            EASY,
            12,
            vec![
                stream("spool-2b", "in", Of(1684)),
                stream("parts-2b", "out", Of(1451)),
                stream("print-scrap-2b", "scrap", Rest),
            ],
        ),
    ]
}

fn third_pass() -> Vec<Step> {
    vec![
        step(
            "p3-shred",
            "shred",
            (5, 18, 9, 0),
            SHREDDER,
            2,
            vec![
                stream("parts-2a", "in", Of(2049)),
                stream("parts-2b", "in", Of(1451)),
                stream("print-scrap-2a", "in", Of(361)),
                stream("print-scrap-2b", "in", Of(233)),
                stream("regrind-3", "out", Rest),
                stream("regrind-3", "fines", Of(134)),
                slipped("regrind-3", "dust", Of(15), Slip::NotWeighed),
            ],
        ),
        step(
            "p3-dry",
            "dry",
            (5, 18, 13, 0),
            DRYER,
            10,
            vec![
                stream("regrind-3", "in", Of(3945)),
                stream("dried-3", "out", Rest),
                stream("regrind-3", "water", Of(7)),
            ],
        ),
        step(
            "p3-blend",
            "blend",
            (5, 19, 8, 15),
            BENCH,
            0,
            vec![
                stream("dried-3", "in", Of(3300)),
                stream("virgin-1", "in", Of(1100)),
                stream("blend-3", "out", Of(4400)),
            ],
        ),
        step(
            "p3-extrude",
            "extrude",
            (5, 19, 9, 0),
            COOLER,
            6,
            vec![
                stream("blend-3", "in", Rest),
                stream("spool-3a", "out", Wound),
                stream("blend-3", "purge", Of(129)),
                stream("blend-3", "scrap", Of(217)),
            ],
        ),
        step(
            "p3-print",
            "print",
            (5, 26, 9, 0),
            EASY,
            20,
            vec![
                stream("spool-3a", "in", Of(2904)),
                stream("parts-3a", "out", Of(2621)),
                stream("print-scrap-3a", "scrap", Rest),
            ],
        ),
    ]
}
