//! One example record of each kind, as it stands in `examples/records`.

use secondmelt_record::Kind;

macro_rules! examples {
    ($($kind:literal)*) => {
        const EXAMPLES: &[(&str, &str)] = &[$((
            $kind,
            include_str!(concat!("../../../examples/records/", $kind, ".json")),
        ),)*];
    };
}

examples! {
    "lot"
    "step"
    "weighing"
    "machine"
    "turning_part"
    "gauge"
    "scale"
    "limit"
    "diameter"
    "inclusion"
    "inspection"
    "marking"
    "immersion"
    "moisture"
    "sieve"
    "bulk"
    "melt_flow"
    "trial"
    "material"
    "verdict"
    "adjustment"
    "caution"
    "diameter_summary"
    "excursion"
    "out_share"
    "piece"
    "log_gap"
    "flow_fit"
    "capability"
    "drift"
    "wave"
    "cleanliness"
    "chart_limits"
    "chart"
    "chart_point"
    "alarm"
    "cause"
    "diameter_so_far"
    "gauge_study"
    "sampling_plan"
    "step_balance"
    "lot_balance"
    "melt_flow_result"
    "melt_viscosity"
    "melt_flow_repeatability"
    "melt_flow_drift"
    "passes_left"
    "blend_share"
    "flow_activation"
    "reconciled"
    "suspect"
    "composition"
    "recycled_content"
    "descent"
    "mass_flow"
    "loss"
    "outlay"
    "loss_trend"
    "rolled_yield"
    "density"
    "candidate"
    "float_sink"
    "drying_curve"
    "particle_size"
    "bulk_density"
    "trial_evidence"
    "fault_share"
    "setting_effect"
    "next_trial"
    "screening_design"
    "screening_run"
    "feed_need"
    "machine_time"
    "reading_plan"
    "batch_stage"
    "piece_use"
    "piece_plan"
    "begin"
    "end"
    "problem"
}

/// The example of a kind: one line with its line end.
pub(crate) fn of(kind: Kind) -> Option<&'static str> {
    EXAMPLES.iter().find(|(name, _)| *name == kind.name()).map(|(_, text)| *text)
}

/// Every example with its kind, facts first.
pub(crate) fn all() -> impl Iterator<Item = (Kind, &'static str)> {
    Kind::ALL.iter().filter_map(|kind| Some((*kind, of(*kind)?)))
}

#[cfg(test)]
mod tests {
    use super::of;
    use secondmelt_record::Kind;

    #[test]
    fn every_kind_has_an_example() {
        for kind in Kind::ALL {
            assert!(of(*kind).is_some(), "{kind}: list its example in examples.rs");
        }
    }
}
