//! From records, which borrow their line, to what is kept.

use super::figures::*;
use crate::keep;
use secondmelt_record::findings::{
    Adjustment, Capability, Cleanliness, DiameterSummary, Drift, Excursion, FlowFit, LotBalance,
    MeltFlowResult, OutShare, Piece, StepBalance, Verdict, Wave,
};
use secondmelt_record::{NonNegative, Number};

/// Losses kept of one step. There are ten roles; a stranger may write more.
const LOSSES_MAX: usize = 50;

fn number(x: Option<Number>) -> Option<f64> {
    x.map(Number::get)
}

fn amount(x: Option<NonNegative>) -> Option<f64> {
    x.map(NonNegative::get)
}

pub(super) fn subject(lot: Option<&str>, step: Option<&str>, machine: Option<&str>) -> Subject {
    let name = |text: Option<&str>| text.map(keep::name).unwrap_or_default();
    Subject { lot: name(lot), step: name(step), machine: name(machine) }
}

pub(super) fn ruling(v: &Verdict<'_>, about: Subject, rule: Option<usize>) -> Ruling {
    Ruling {
        check: keep::name(&v.check),
        result: v.result,
        about,
        value: number(v.value),
        limit: number(v.limit),
        unit: v.unit.as_deref().map(keep::name).unwrap_or_default(),
        rule,
        probability: v.probability.map(|p| p.get()),
        why: keep::text(&v.why),
    }
}

pub(super) fn proposal(a: &Adjustment<'_>) -> Proposal {
    Proposal {
        what: keep::name(&a.what),
        about: subject(a.lot.as_deref(), a.step.as_deref(), a.machine.as_deref()),
        from: number(a.from),
        to: number(a.to),
        interval: number(a.low).zip(number(a.high)),
        unit: keep::name(&a.unit),
        because: keep::text(&a.because),
        basis: keep::text(&a.basis),
        confidence: a.confidence.map(|p| p.get()),
    }
}

pub(super) fn diameters(d: &DiameterSummary<'_>) -> DiameterFigures {
    DiameterFigures {
        readings: d.readings.0,
        axes: d.axes.0,
        mean_mm: d.mean_mm.get(),
        sd_mm: amount(d.sd_mm),
        min_mm: d.min_mm.get(),
        max_mm: d.max_mm.get(),
        area_mm: d.area_mm.get(),
        lag1: number(d.lag1),
        ovality_mean_mm: amount(d.ovality_mean_mm),
        ovality_max_mm: amount(d.ovality_max_mm),
        ovality_max_at_m: number(d.ovality_max_at_m),
        length_m: amount(d.length_m),
        out_of_order: d.out_of_order.0,
        gaps: d.gaps.map_or(0, |n| n.0),
        effective: amount(d.effective_readings),
        mean_mm_95: number(d.mean_low_mm).zip(number(d.mean_high_mm)),
        middle_90_mm: number(d.p05_mm).zip(number(d.p95_mm)),
        mass_g: amount(d.mass_g),
    }
}

pub(super) fn share(o: &OutShare<'_>) -> Share {
    Share {
        machine: keep::name(&o.machine),
        nominal_mm: o.nominal_mm.get(),
        tolerance_mm: o.tolerance_mm.get(),
        readings_out: o.readings_out.0,
        readings_out_pct: o.readings_out_pct.get(),
        excursions: o.excursions.0,
        out_m: amount(o.out_m),
        out_pct: o.out_pct.map(|p| p.get()),
        pieces: o.pieces.map(|n| n.0),
        kept_m: amount(o.kept_m),
        kept_g: amount(o.kept_g),
    }
}

pub(super) fn flow(f: &FlowFit<'_>) -> FlowFigures {
    FlowFigures {
        machine: keep::name(&f.machine),
        error_pct: f.error_pct.get(),
        factor: f.factor.get(),
        smoothing_m: f.smoothing_m.map(|m| m.get()),
        spread_pct: amount(f.spread_pct),
        least_pct: number(f.least_pct),
        most_pct: number(f.most_pct),
    }
}

pub(super) fn capability(c: &Capability<'_>) -> CapabilityFigures {
    CapabilityFigures {
        machine: keep::name(&c.machine),
        pp: c.pp.get(),
        pp_low: number(c.pp_low),
        ppk: c.ppk.get(),
        ppk_low: number(c.ppk_low),
        cpk: number(c.cpk),
        estimated_out_pct: c.estimated_out_pct.map(f64::from),
        estimated_out_high_pct: c.estimated_out_high_pct.map(f64::from),
        observed_out_pct: c.observed_out_pct.get(),
    }
}

pub(super) fn drift(d: &Drift<'_>) -> DriftFigures {
    DriftFigures {
        over_length_mm: d.over_length_mm.get(),
        slope_mm_per_m: d.slope_mm_per_m.get(),
        interval: number(d.low_mm_per_m).zip(number(d.high_mm_per_m)),
        probability: d.probability.get(),
    }
}

pub(super) fn wave(w: &Wave<'_>) -> WaveFigures {
    let machine = w.machine.as_ref().map(|m| format!(" of {}", keep::name(m))).unwrap_or_default();
    let name = w.part.map_or("no known part", |part| part.as_str()).to_owned();
    let part = w.part.map(|part| format!("{part}{machine}"));
    let overtone = w.overtone_of_m.map(|m| format!("overtone of {:.3} m", m.get()));
    let or_else = w.or_else.as_ref().map(|others| format!("or {}", keep::text(others)));
    let known: Vec<String> = [overtone, part, or_else].into_iter().flatten().collect();
    let cause =
        if known.is_empty() { "no part that is recorded".to_owned() } else { known.join(", ") };
    WaveFigures {
        period_m: w.period_m.get(),
        u_period_m: w.u_period_m.get(),
        amplitude_mm: w.amplitude_mm.get(),
        u_amplitude_mm: w.u_amplitude_mm.get(),
        cause,
        name,
        looked_for_m: (w.shortest_m.get(), w.longest_m.get()),
    }
}

pub(super) fn cleanliness(c: &Cleanliness<'_>) -> CleanFigures {
    CleanFigures {
        inclusions: c.inclusions.0,
        length_m: c.length_m.get(),
        low_per_m: c.low_per_m.get(),
        high_per_m: c.high_per_m.get(),
    }
}

pub(super) fn piece(p: &Piece<'_>) -> PieceFigures {
    PieceFigures {
        keep: p.keep,
        from_m: p.from_m.get(),
        to_m: p.to_m.get(),
        length_m: p.length_m.get(),
    }
}

pub(super) fn excursion(e: &Excursion<'_>) -> ExcursionFigures {
    ExcursionFigures {
        side: e.side.as_str(),
        readings: e.readings.0,
        first_reading: e.first_reading.0,
        from_m: number(e.from_m),
        to_m: number(e.to_m),
        length_m: amount(e.length_m),
        from_s: number(e.from_s),
        to_s: number(e.to_s),
        worst_mm: e.worst_mm.get(),
        beyond_mm: e.beyond_mm.get(),
    }
}

pub(super) fn lot_balance(b: &LotBalance<'_>) -> LotFigures {
    LotFigures {
        made_g: b.made_g.get(),
        used_g: b.used_g.get(),
        stock_g: amount(b.stock_g),
        unexplained_g: number(b.unexplained_g),
        u_unexplained_g: amount(b.u_unexplained_g),
        used_pct: amount(b.used_pct),
        not_weighed: b.not_weighed.0,
    }
}

pub(super) fn melt_flow(m: &MeltFlowResult<'_>) -> MeltFlowFigures {
    MeltFlowFigures {
        run: m.run.as_deref().map(keep::name).unwrap_or_default(),
        temp_c: m.temp_c.get(),
        load_kg: m.load_kg.get(),
        cuts: m.cuts.0,
        mfr_g_10min: m.mfr_g_10min.get(),
        sd_g_10min: amount(m.sd_g_10min),
        spread_pct: amount(m.spread_pct),
        mvr_cm3_10min: number(m.mvr_cm3_10min),
        melt_density_g_cm3: number(m.melt_density_g_cm3),
    }
}

pub(super) fn step_balance(b: &StepBalance<'_>) -> StepFigures {
    let losses = b.losses.0.iter().take(LOSSES_MAX);
    StepFigures {
        step: keep::name(&b.step),
        in_g: b.in_g.get(),
        out_g: b.out_g.get(),
        losses: losses.map(|(name, g)| (keep::name(name), g.get())).collect(),
        unexplained_g: number(b.unexplained_g),
        u_unexplained_g: amount(b.u_unexplained_g),
        yield_pct: amount(b.yield_pct),
        u_yield_pct: amount(b.u_yield_pct),
        not_weighed: b.not_weighed.0,
    }
}
