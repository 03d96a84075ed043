//! The plastic as it comes: what it may be, how wet and how coarse it is.

use crate::keep::{self, Capped};
use secondmelt_record::Record;
use secondmelt_record::findings::{DryingCurve, ParticleSize};

/// Findings of one sort.
const LIST_MAX: usize = 500;

/// A plastic that a lot may be.
#[derive(Debug)]
pub(crate) struct MayBe {
    pub(crate) lot: String,
    pub(crate) material: String,
    pub(crate) share: f64,
    pub(crate) claimed: bool,
}

/// The density of a lot.
#[derive(Debug)]
pub(crate) struct Weighed {
    pub(crate) lot: String,
    pub(crate) pieces: u64,
    pub(crate) density_g_cm3: f64,
    pub(crate) u_g_cm3: f64,
}

/// A liquid that parts two plastics.
#[derive(Debug)]
pub(crate) struct Parts {
    pub(crate) lot: String,
    pub(crate) floats: String,
    pub(crate) sinks: String,
    pub(crate) liquid: String,
    pub(crate) liquid_g_cm3: f64,
    pub(crate) added_pct: Option<f64>,
}

/// How a lot dries.
#[derive(Debug)]
pub(crate) struct Dries {
    pub(crate) lot: String,
    pub(crate) piece: &'static str,
    pub(crate) piece_known: bool,
    pub(crate) dry_c: Option<f64>,
    pub(crate) readings: u64,
    pub(crate) end_pct: Option<f64>,
    pub(crate) limit_pct: f64,
    pub(crate) hours: Option<f64>,
    pub(crate) interval: (Option<f64>, Option<f64>),
}

/// How coarse a lot is.
#[derive(Debug)]
pub(crate) struct Sieved {
    pub(crate) lot: String,
    pub(crate) sizes_mm: [Option<f64>; 3],
    pub(crate) fines_pct: Option<f64>,
    pub(crate) oversize_pct: Option<f64>,
    pub(crate) loss_pct: Option<f64>,
}

/// What a hopper holds of a lot.
#[derive(Debug)]
pub(crate) struct Poured {
    pub(crate) lot: String,
    pub(crate) machine: String,
    pub(crate) bulk_g_cm3: f64,
    pub(crate) hopper_g: Option<f64>,
}

/// All of it.
#[derive(Debug)]
pub(crate) struct Feed {
    pub(crate) weighed: Capped<Weighed>,
    pub(crate) may_be: Capped<MayBe>,
    pub(crate) parts: Capped<Parts>,
    pub(crate) dries: Capped<Dries>,
    pub(crate) sieved: Capped<Sieved>,
    pub(crate) poured: Capped<Poured>,
}

impl Default for Feed {
    fn default() -> Self {
        Self {
            weighed: Capped::new(LIST_MAX),
            may_be: Capped::new(4 * LIST_MAX),
            parts: Capped::new(LIST_MAX),
            dries: Capped::new(LIST_MAX),
            sieved: Capped::new(LIST_MAX),
            poured: Capped::new(LIST_MAX),
        }
    }
}

impl Feed {
    pub(super) fn take(&mut self, record: &Record<'_>) {
        match record {
            Record::DensityFound(d) => self.weighed.push(|| Weighed {
                lot: keep::name(&d.lot),
                pieces: d.pieces.0,
                density_g_cm3: d.density_g_cm3.get(),
                u_g_cm3: d.u_g_cm3.get(),
            }),
            Record::Candidate(c) => self.may_be.push(|| MayBe {
                lot: keep::name(&c.lot),
                material: keep::name(&c.material),
                share: c.share.get(),
                claimed: c.claimed,
            }),
            Record::FloatSink(f) => self.parts.push(|| Parts {
                lot: f.lot.as_deref().map(keep::name).unwrap_or_default(),
                floats: keep::name(&f.floats),
                sinks: keep::name(&f.sinks),
                liquid: keep::name(&f.liquid),
                liquid_g_cm3: f.liquid_g_cm3.get(),
                added_pct: f.added_pct.map(|p| p.get()),
            }),
            Record::DryingCurve(d) => self.dries.push(|| dries(d)),
            Record::ParticleSize(p) => self.sieved.push(|| sieved(p)),
            Record::BulkDensity(b) => self.poured.push(|| Poured {
                lot: keep::name(&b.lot),
                machine: b.machine.as_deref().map(keep::name).unwrap_or_default(),
                bulk_g_cm3: b.bulk_g_cm3.get(),
                hopper_g: b.hopper_g.map(|g| g.get()),
            }),
            _ => {}
        }
    }
}

fn dries(d: &DryingCurve<'_>) -> Dries {
    Dries {
        lot: keep::name(&d.lot),
        piece: d.piece.as_str(),
        piece_known: d.piece_known,
        dry_c: d.dry_c.map(|c| c.get()),
        readings: d.readings.0,
        end_pct: d.end_known.then(|| d.end_pct.get()),
        limit_pct: d.limit_pct.get(),
        hours: d.hours.map(|h| h.get()),
        interval: (d.low_h.map(|h| h.get()), d.high_h.map(|h| h.get())),
    }
}

fn sieved(p: &ParticleSize<'_>) -> Sieved {
    Sieved {
        lot: keep::name(&p.lot),
        sizes_mm: [p.d10_mm, p.d50_mm, p.d90_mm].map(|size| size.map(|mm| mm.get())),
        fines_pct: p.fines_pct.map(|x| x.get()),
        oversize_pct: p.oversize_pct.map(|x| x.get()),
        loss_pct: p.loss_pct.map(|x| x.get()),
    }
}
