//! Density by immersion: one piece, and the lot.

use crate::book::{Book, Feed};
use secondmelt_plastics::density::{AIR_G_CM3, Budget, Immersed, water_g_cm3};
use secondmelt_record::facts::Immersion;
use secondmelt_record::findings::DensityFound;
use secondmelt_record::{Code, Line, NonNegative, Out, Positive, Problem};

/// Solid plastics without filler or foam lie between these, in g/cm3 (handbook ranges, from
/// memory); what lies outside is a slip of weighing or no solid plastic.
const SOLID_G_CM3: std::ops::RangeInclusive<f64> = 0.82..=2.3;
/// A weighing on a scale that nothing is known of, in g (common practice, no source).
const SCALE_G: f64 = 0.002;
/// How well the temperature of the liquid is known, in °C (common practice, no source).
const TEMP_C: f64 = 0.5;
/// Air that clings to a piece wetted with care, in cm3: two bubbles of 1 mm (common practice, no
/// source).
const BUBBLE_CM3: f64 = 0.001;
/// Change of the density of water near room temperature, in g/cm3 for a degree.
const WATER_PER_C: f64 = 0.000_24;

/// The weighings of one piece.
#[derive(Debug, Clone)]
pub(crate) struct Piece {
    weighed: Immersed,
    u_g: Option<f64>,
    scale: Option<String>,
    bubble_cm3: Option<f64>,
}

/// A piece whose weighings make sense.
pub(crate) fn piece(
    weighed: &Immersion<'_>,
    line: Line<'_>,
) -> Result<Piece, Box<Problem<'static>>> {
    let temp_c = weighed.temp_c.get();
    let refuse = |found: String, expected: &str| {
        Err(Box::new(line.problem(Code::OutOfRange, found, expected)))
    };
    let water = weighed.liquid.as_deref().is_none_or(|l| l.eq_ignore_ascii_case("water"));
    let liquid = match weighed.liquid_g_cm3 {
        Some(given) => given.get(),
        None if !water => {
            return refuse(
                "a liquid other than water without its density".into(),
                "`liquid_g_cm3`",
            );
        }
        None => match water_g_cm3(temp_c) {
            Some(density) => density,
            None => {
                return refuse(
                    format!("water at {temp_c} °C"),
                    "0 to 40 °C, as in a lab: a figure near 296 is kelvin, one near 73 is °F",
                );
            }
        },
    };
    let pieces = Immersed {
        air_g: weighed.air_g.get(),
        liquid_g: weighed.liquid_g.get(),
        sinker_g: weighed.sinker_g.map_or(0.0, f64::from),
        liquid_g_cm3: liquid,
    };
    match pieces.density_g_cm3() {
        None => refuse(
            "a specimen at least as heavy in the liquid as in air, so without volume".into(),
            "an apparent mass in the liquid below that in air (with a sinker, its own in `sinker_g`)",
        ),
        Some(density) if !SOLID_G_CM3.contains(&density) => refuse(
            format!("a density of {density:.3} g/cm3"),
            "0.82 to 2.3 g/cm3, as solid plastics have: look for bubbles, foam, a swapped or mis-keyed mass",
        ),
        Some(_) => Ok(Piece {
            weighed: pieces,
            u_g: weighed.u_g.map(Into::into),
            scale: weighed.scale.as_ref().map(ToString::to_string),
            bubble_cm3: weighed.bubble_cm3.map(Into::into),
        }),
    }
}

/// The density of a lot.
#[derive(Debug, Clone)]
pub(crate) struct Density {
    pub(crate) mean: f64,
    with_air: f64,
    pub(crate) u: f64,
    pub(crate) pieces: usize,
    /// Largest less smallest.
    pub(crate) spread: f64,
    /// Standard uncertainty of one piece.
    pub(crate) u_piece: f64,
    budget: Budget,
    basis: String,
}

impl Density {
    #[expect(clippy::cast_precision_loss, reason = "a few specimens")]
    pub(crate) fn of(book: &Book, feed: &Feed) -> Option<Self> {
        let pieces = feed.pieces.len();
        let n = pieces as f64;
        let found: Vec<(f64, f64, Budget)> = feed
            .pieces
            .iter()
            .filter_map(|piece| {
                let by_scale = || book.scale(piece.scale.as_deref()?);
                let u_g = piece.u_g.or_else(by_scale).unwrap_or(SCALE_G);
                let bubble = piece.bubble_cm3.unwrap_or(BUBBLE_CM3);
                let weighed = &piece.weighed;
                Some((
                    weighed.density_g_cm3()?,
                    weighed.with_air_g_cm3(AIR_G_CM3)?,
                    weighed.budget(u_g, TEMP_C * WATER_PER_C, bubble)?,
                ))
            })
            .collect();
        if found.is_empty() {
            return None;
        }
        let mean_of =
            |of: &dyn Fn(&(f64, f64, Budget)) -> f64| found.iter().map(of).sum::<f64>() / n;
        let mean = mean_of(&|f| f.0);
        // Scale and habit are the same for all pieces, so that more of them help little.
        let budget = Budget {
            scale: mean_of(&|f| f.2.scale),
            temp: mean_of(&|f| f.2.temp),
            bubble: mean_of(&|f| f.2.bubble),
        };
        let squares: f64 = found.iter().map(|f| (f.0 - mean).powi(2)).sum();
        let scatter = if pieces > 1 { (squares / (n - 1.0) / n).sqrt() } else { 0.0 };
        let ends = found.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), f| {
            (low.min(f.0), high.max(f.0))
        });
        let scale_known = feed
            .pieces
            .iter()
            .all(|p| p.u_g.is_some() || p.scale.as_deref().and_then(|s| book.scale(s)).is_some());
        let bubble_known = feed.pieces.iter().all(|piece| piece.bubble_cm3.is_some());
        let basis = format!(
            "{}; {}",
            if scale_known {
                "uncertainty of the scale as recorded".to_owned()
            } else {
                format!("{SCALE_G} g taken for a scale not recorded (`u_g` or `scale`)")
            },
            if bubble_known {
                "clinging air as recorded".to_owned()
            } else {
                format!("{BUBBLE_CM3} cm3 of clinging air taken (`bubble_cm3`)")
            }
        );
        Some(Self {
            mean,
            with_air: mean_of(&|f| f.1),
            u: budget.all().max(scatter),
            pieces,
            spread: ends.1 - ends.0,
            u_piece: budget.all(),
            budget,
            basis,
        })
    }

    pub(crate) fn write(&self, lot: &str, out: &mut Out) {
        let (Some(density), Some(with_air)) =
            (Positive::new(self.mean), Positive::new(self.with_air))
        else {
            return;
        };
        let part = |x: f64| NonNegative::new(x).unwrap_or_default();
        out.write(&DensityFound {
            lot: lot.into(),
            pieces: self.pieces.into(),
            density_g_cm3: density,
            with_air_g_cm3: with_air,
            u_g_cm3: part(self.u),
            u_scale_g_cm3: part(self.budget.scale),
            u_temp_g_cm3: part(self.budget.temp),
            u_bubble_g_cm3: part(self.budget.bubble),
            spread_g_cm3: (self.pieces > 1).then(|| part(self.spread)),
            basis: self.basis.clone().into(),
            ..DensityFound::default()
        });
    }

    /// Whether its pieces differ by more than the weighings explain.
    pub(crate) fn mixed(&self) -> bool {
        self.pieces > 1 && self.spread > 0.015_f64.max(6.0 * self.u_piece)
    }
}
