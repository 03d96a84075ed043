//! Whether a spool fits a machine.

use crate::capability;
use crate::few::{APART_M, by_interval};
use crate::gauge::Uncertainty;
use crate::options::Rule;
use crate::reading::rounded;
use crate::spool::{Evidence, Spool};
use crate::watch::{Watch, Whole};
use secondmelt_quality::decision_rule::{GUARD_FACTOR, Guarded, Zone, conformance};
use secondmelt_quality::limits::Limits;
use secondmelt_quality::proportion::trials_needed;
use secondmelt_record::findings::{Decision, OutShare, Verdict};
use secondmelt_record::spools::DIAMETER_CHECK;
use secondmelt_record::{Count, Fraction, Name, Number, Out, Text};

/// What a run of readings without one outside is asked to show: with this confidence,
/// that at least this share of the spool is inside.
const CONFIDENCE: f64 = 0.95;
const SHARE: f64 = 0.95;

const RULE: &str = "simple acceptance (JCGM 106:2012, 8.2): every reading within the tolerance, limits \
included, and enough of them to speak for the spool: 59 independent ones (success run: 95 % of the spool inside at 95 % \
confidence, readings taken as a sample of the whole spool, those that follow one another counted for fewer unless the log covers what its mass makes), or fewer, a metre apart and more, whose normal tolerance interval for the same \
share lies within the tolerance on each axis (ISO 16269-6:2014)";

const OVALITY_RULE: &str = "simple acceptance (JCGM 106:2012, 8.2): largest minus smallest axis of every \
reading with more than one not above the limit; too few readings decide nothing (success run as for the \
diameter); two axes do not see all of an oval";

const GUARDED_RULE: &str = "guarded acceptance (ISO 14253-1:2017): the reading furthest from nominal is within the \
tolerance, or outside, by 1.65 standard uncertainties of the gauge; between, nothing is shown. Enough readings to \
speak for the spool: 59 independent ones (success run: 95 % of the spool inside at 95 % confidence, readings taken as a sample of \
the whole spool, those that follow one another counted for fewer unless the log covers what its mass makes), or fewer whose normal tolerance interval for the same share lies within the tolerance on each \
axis (ISO 16269-6:2014). The probability is that the diameter read there is within the tolerance (JCGM 106:2012, clause 7)";

/// Probability at which a diameter is taken as within, and from which its complement is taken as
/// outside.
const PROBABLE: f64 = 0.95;

const PROBABILITY_RULE: &str = "conformance probability (JCGM 106:2012, clauses 7 and 8.3): the diameter where the reading \
is furthest from nominal is within the tolerance with a probability of at least 95 %, or outside with as much; between, nothing is \
shown. The error of the gauge is taken as normal and nothing as known of the diameter beforehand. Enough readings to speak for the \
spool as for guarded acceptance";

const BORE_RULE: &str = "simple acceptance (JCGM 106:2012, 8.2): largest axis of every reading below the \
narrowest bore of the machine; the filament is taken as cold and the bore as round";

/// Writes what is decided on a spool.
pub fn write(spool: &Spool, whole: Whole<'_>, u: Uncertainty, cut: bool, out: &mut Out) {
    for watch in spool.watches() {
        let share = watch.share(whole);
        out.write(&share);
        out.write(&tolerance(spool, watch, &share, u, cut));
        if let Some(capability) = capability::of(spool, watch, whole) {
            out.write(&capability);
        }
        if let Some(verdict) = ovality(spool, watch, cut) {
            out.write(&verdict);
        }
        if let Some(flow) = spool.flow(&watch.fit) {
            out.write(&flow);
        }
        if let Some(verdict) = bore(spool, watch, cut) {
            out.write(&verdict);
        }
    }
    if spool.watches().is_empty() {
        out.write(&no_machine(spool));
    }
}

fn blank(spool: &Spool, check: &'static str, rule: &'static str) -> Verdict<'static> {
    Verdict {
        check: Name::from(check),
        lot: Some(Name::from(spool.lot().to_owned())),
        rule: Text::from(rule),
        unit: Some(Text::from("mm")),
        ..Verdict::default()
    }
}

fn tolerance(
    spool: &Spool,
    watch: &Watch,
    share: &OutShare<'_>,
    u: Uncertainty,
    cut: bool,
) -> Verdict<'static> {
    let simple = simple(spool, watch, share, cut);
    match (spool.rule(), u.largest_mm) {
        (Rule::Simple, _) | (Rule::Known, None) => simple,
        (Rule::Known, Some(u_mm)) => uncertain(watch, simple, u_mm, Rule::Known),
        (by, Some(u_mm)) if u.of_all => uncertain(watch, simple, u_mm, by),
        (by, _) => Verdict {
            result: Decision::Undecided,
            why: Text::from(format!(
                "{} But the uncertainty of its gauge is not known: every reading must name its gauge, and a \
                 `gauge` record with `u_mm` must be there for each.",
                simple.why
            )),
            rule: Text::from(if by == Rule::Probability { PROBABILITY_RULE } else { GUARDED_RULE }),
            ..simple
        },
    }
}

fn simple(spool: &Spool, watch: &Watch, share: &OutShare<'_>, cut: bool) -> Verdict<'static> {
    let deviation = watch.worst.map(|w| rounded(watch.fit.deviation_mm(w.mm)));
    let (result, why) = if watch.readings_out > 0 {
        (Decision::Fails, outside(watch, share))
    } else {
        few(spool, watch, cut).unwrap_or_else(|| {
            inside(spool.evidence(), cut, &format!("within {}", watch.fit.tolerance_text()))
        })
    };
    Verdict {
        result,
        machine: Some(Name::from(watch.fit.machine.clone())),
        value: deviation.and_then(Number::new),
        limit: Number::new(watch.fit.tolerance_mm.get()),
        why: Text::from(why),
        ..blank(spool, DIAMETER_CHECK, RULE)
    }
}

/// What readings show that are all inside, and too few to speak for the spool without an
/// assumption; none where there are enough, or they show nothing.
fn few(spool: &Spool, watch: &Watch, cut: bool) -> Option<(Decision, String)> {
    let enough = trials_needed(SHARE, CONFIDENCE, 0)?;
    let evidence = spool.evidence();
    let readings = evidence.readings;
    if cut || evidence.counted() < readings || readings >= enough || unread(&evidence).is_some() {
        return None;
    }
    if !evidence.is_whole() && !evidence.stand_apart(APART_M) {
        return None;
    }
    let (result, end) = by_interval(spool.readings(), &watch.fit, (SHARE, CONFIDENCE), enough)?;
    Some((
        result,
        format!("All {readings} readings are within {}, {end}.", watch.fit.tolerance_text()),
    ))
}

/// The same with the uncertainty of the gauge: what lies within its guard band of a limit, on
/// either side, or what has neither a high nor a low probability to be within, is not decided.
fn uncertain(watch: &Watch, simple: Verdict<'static>, u_mm: f64, by: Rule) -> Verdict<'static> {
    let guard_mm = GUARD_FACTOR * u_mm;
    let limits = Limits::new(Some(watch.fit.low_mm), Some(watch.fit.high_mm));
    let judged = limits.zip(watch.worst).and_then(|(limits, worst)| {
        let probability = conformance(worst.mm, u_mm, limits).map(|p| p.within);
        Some((Guarded::new(limits, guard_mm)?.zone(worst.mm)?, worst.mm, probability))
    });
    let Some((zone, worst_mm, probability)) = judged else { return simple };
    let by_probability = by == Rule::Probability;
    let near = if by_probability {
        probability.is_none_or(|p| p > 1.0 - PROBABLE && p < PROBABLE)
    } else {
        matches!(zone, Zone::ConditionalPass | Zone::ConditionalFail)
    };
    let tolerance = watch.fit.tolerance_text();
    let of = if by_probability {
        let percent = 100.0 * probability.unwrap_or_default();
        format!(
            "The reading furthest from nominal is {worst_mm} mm, and with the uncertainty of its gauge the diameter \
             there is within {tolerance} with a probability of {percent:.1} %."
        )
    } else {
        format!(
            "The reading furthest from nominal, {worst_mm} mm, is nearer to a limit of {tolerance} than the guard \
             band of {} mm, so its gauge cannot tell on which side it lies.",
            rounded(guard_mm)
        )
    };
    let limit_mm = watch.fit.tolerance_mm.get() - guard_mm;
    let why = match (near, watch.readings_out > 0) {
        (true, false) if limit_mm < 0.0 && !by_probability => Text::from(format!(
            "The guard band of {} mm is wider than the tolerance, {tolerance}: with its gauge no spool can be shown to conform.",
            rounded(guard_mm)
        )),
        (false, _) => simple.why,
        (true, true) => Text::from(format!("{} {of}", simple.why)),
        (true, false) => Text::from(of),
    };
    Verdict {
        result: if near { Decision::Undecided } else { simple.result },
        limit: if by_probability { simple.limit } else { Number::new(rounded(limit_mm.max(0.0))) },
        probability: probability.and_then(Fraction::new),
        why,
        rule: Text::from(if by_probability { PROBABILITY_RULE } else { GUARDED_RULE }),
        ..simple
    }
}

fn outside(watch: &Watch, share: &OutShare<'_>) -> String {
    let places = plural(watch.excursions, "place", "places");
    let amount = match (share.out_m, share.out_pct) {
        (Some(out_m), Some(pct)) if out_m.get() > 0.0 => {
            format!("{:.2} m ({:.2} %) in {places}", out_m.get(), pct.get())
        }
        _ => format!(
            "{} of {} readings ({:.2} %) in {places}",
            watch.readings_out,
            share.readings.0,
            share.readings_out_pct.get()
        ),
    };
    let worst = watch.worst.map_or(String::new(), |worst| {
        let at = worst.at_m.map_or(String::new(), |m| format!(" at {} m", m.get()));
        format!("; the worst reading is {} mm{at}", worst.mm)
    });
    let kept = match (share.pieces, share.kept_m) {
        (Some(Count(0)), _) => "; no piece of it is worth keeping".to_owned(),
        (Some(pieces), Some(kept_m)) => {
            let pieces = plural(pieces.0, "piece", "pieces");
            format!("; {:.2} m can be kept in {pieces}", kept_m.get())
        }
        _ => String::new(),
    };
    format!("Outside {} over {amount}{worst}{kept}.", watch.fit.tolerance_text())
}

/// What no reading outside amounts to.
fn inside(evidence: Evidence, cut: bool, within: &str) -> (Decision, String) {
    let needed = trials_needed(SHARE, CONFIDENCE, 0).unwrap_or(u64::MAX);
    let Evidence { readings, fresh, independent, .. } = evidence;
    let over = evidence.read_m.map_or(String::new(), |m| format!(" over {m:.2} m"));
    let all = match readings {
        1 => "The only reading is".to_owned(),
        n => format!("All {n} readings{over} are"),
    };
    let but = if cut {
        "the input was cut short".to_owned()
    } else if fresh < needed && fresh < readings {
        format!(
            "only {fresh} of them stand where none stood before; it takes {needed} to speak for the whole spool"
        )
    } else if readings < needed {
        let more = plural(needed - readings, "more reading", "more readings");
        let apart = if readings > 1 && !evidence.stand_apart(APART_M) {
            format!(", or as many places {APART_M} m apart and more")
        } else {
            String::new()
        };
        format!("it takes {more} to speak for the whole spool{apart}")
    } else if evidence.counted() < needed {
        format!(
            "they follow one another (lag-1 autocorrelation {:.2}) and count for {independent} independent ones; it takes {needed} to \
             speak for the whole spool: read at places further apart, or all of it and its mass",
            evidence.lag1
        )
    } else if let Some(unread) = unread(&evidence) {
        unread
    } else {
        let rest = missing(&evidence).map_or(String::new(), |rest| format!(" {rest} not read."));
        return (Decision::Conforms, format!("{all} {within}.{rest}"));
    };
    (Decision::Undecided, format!("{all} {within}, but {but}."))
}

/// What was not read of a spool, to end with "not read".
fn missing(evidence: &Evidence) -> Option<String> {
    let places = plural(evidence.gaps, "gap", "gaps");
    let Some(missing_m) = evidence.missing_m() else {
        let s = evidence.unread_s.filter(|_| evidence.read_m.is_none())?;
        return Some(format!("{s:.0} s in {places} of the log were"));
    };
    Some(match (evidence.is_whole(), evidence.made_m) {
        (false, Some(made_m)) => {
            format!("About {missing_m:.1} m of the {made_m:.1} m that its mass makes were")
        }
        _ => format!("{missing_m:.2} m in {places} of the log were"),
    })
}

/// That more of a spool was not read than was, to end a sentence; none where it was not.
fn unread(evidence: &Evidence) -> Option<String> {
    let missing = missing(evidence)?.replacen("About", "about", 1);
    if let Some(read_m) = evidence.read_m {
        let much = evidence.missing_m().is_some_and(|m| m > read_m);
        return much.then(|| format!("{missing} not read, and only {read_m:.2} m were"));
    }
    let much = evidence.unread_s.is_some_and(|s| s > evidence.read_s);
    much.then(|| format!("{missing} not read, and only {:.0} s were", evidence.read_s))
}

fn ovality(spool: &Spool, watch: &Watch, cut: bool) -> Option<Verdict<'static>> {
    let limit = watch.fit.ovality_mm?;
    let oval = spool.most_oval_mm();
    let (result, why) = match oval {
        None => {
            let why = "Only one axis was read, so nothing is known of its ovality.";
            (Decision::Undecided, why.to_owned())
        }
        Some(oval) if oval > limit => {
            let at = spool.most_oval_at_m().map_or(String::new(), |m| format!(" at {} m", m.get()));
            let why = format!(
                "Its ovality reaches {} mm{at}; the limit is {} mm.",
                oval.get(),
                limit.get()
            );
            (Decision::Fails, why)
        }
        Some(_) => {
            inside(spool.ovality_evidence(), cut, &format!("at most {} mm oval", limit.get()))
        }
    };
    Some(Verdict {
        result,
        machine: Some(Name::from(watch.fit.machine.clone())),
        value: oval.and_then(|x| Number::new(x.get())),
        limit: Number::new(limit.get()),
        why: Text::from(why),
        ..blank(spool, "ovality", OVALITY_RULE)
    })
}

fn bore(spool: &Spool, watch: &Watch, cut: bool) -> Option<Verdict<'static>> {
    let (bore, thickest) = (watch.fit.bore_mm?, spool.readings().max_mm()?);
    let (result, why) = if thickest >= bore.get() {
        let why = format!(
            "Its thickest reading is {thickest} mm and does not pass a bore of {} mm.",
            bore.get()
        );
        (Decision::Fails, why)
    } else {
        inside(spool.evidence(), cut, &format!("thinner than the bore of {} mm", bore.get()))
    };
    Some(Verdict {
        result,
        machine: Some(Name::from(watch.fit.machine.clone())),
        value: Number::new(thickest),
        limit: Number::new(bore.get()),
        why: Text::from(why),
        ..blank(spool, "bore", BORE_RULE)
    })
}

fn no_machine(spool: &Spool) -> Verdict<'static> {
    let mean = spool.readings().mean_mm().unwrap_or_default();
    let why = "No printer with a nominal diameter and a tolerance came before its readings, so there is \
               nothing to hold them against.";
    Verdict {
        result: Decision::Undecided,
        value: Number::new(mean),
        why: Text::from(why),
        ..blank(spool, DIAMETER_CHECK, RULE)
    }
}

fn plural(n: u64, one: &str, many: &str) -> String {
    format!("{n} {}", if n == 1 { one } else { many })
}
