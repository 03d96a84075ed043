//! What the stream said of lots, machines, materials and limits.

use secondmelt_plastics::cards;
use secondmelt_record::facts::{Does, Limit, Lot, Machine, Material};
use secondmelt_record::units::limit_fault;
use secondmelt_record::{Code, Line, Number, Problem};
use std::collections::BTreeMap;

/// The quantity of limits that ask for a share of good trials.
const GOOD: &str = "good_pct";

/// Lower and upper end of what a value may be, where they are known.
pub(crate) type Ends = (Option<f64>, Option<f64>);

/// What is kept of a machine.
#[derive(Debug, Clone, PartialEq)]
struct MachineFact {
    does: Does,
    windows: BTreeMap<&'static str, Ends>,
}

/// What a limit is of: quantity, machine, material.
type About = (String, Option<String>, Option<String>);

/// What the stream said.
#[derive(Debug, Default)]
pub(crate) struct Lab {
    materials_of: BTreeMap<String, String>,
    machines: BTreeMap<String, MachineFact>,
    /// Melt temperatures of the lab's own cards.
    cards: BTreeMap<String, Ends>,
    limits: BTreeMap<About, Ends>,
}

impl Lab {
    pub(crate) fn lot(&mut self, lot: &Lot<'_>, line: Line<'_>) -> Option<Problem<'static>> {
        let material = lot.material.to_string();
        let first =
            self.materials_of.entry(lot.lot.to_string()).or_insert_with(|| material.clone());
        (*first != material).then(|| line.contradiction("lot", &lot.lot))
    }

    pub(crate) fn machine(&mut self, m: &Machine<'_>, line: Line<'_>) -> Option<Problem<'static>> {
        let windows: [(&str, Ends); 3] = [
            ("melt_c", (m.melt_min_c.map(Into::into), m.melt_max_c.map(Into::into))),
            (
                "line_speed_m_min",
                (m.line_speed_min_m_min.map(Into::into), m.line_speed_max_m_min.map(Into::into)),
            ),
            ("screw_rpm", (m.screw_min_rpm.map(Into::into), m.screw_max_rpm.map(Into::into))),
        ];
        let fact = MachineFact { does: m.does, windows: BTreeMap::from(windows) };
        let first = self.machines.entry(m.machine.to_string()).or_insert_with(|| fact.clone());
        (*first != fact).then(|| line.contradiction("machine", &m.machine))
    }

    pub(crate) fn material(
        &mut self,
        m: &Material<'_>,
        line: Line<'_>,
    ) -> Option<Problem<'static>> {
        let ends = (m.melt_min_c.map(Into::into), m.melt_max_c.map(Into::into));
        let first = *self.cards.entry(m.material.to_string()).or_insert(ends);
        (first != ends).then(|| line.contradiction("material", &m.material))
    }

    /// Takes a limit of a setting or of the share of good trials; those of one lot are no business
    /// of this filter.
    pub(crate) fn limit(&mut self, limit: &Limit<'_>, line: Line<'_>) -> Option<Problem<'static>> {
        if limit.lot.is_some() {
            return None;
        }
        if let Some(problem) = limit_fault(limit, line) {
            return Some(problem);
        }
        // A share of good ones that cannot be shown, or that nobody asks for, is a slip.
        let asked = limit.min.map(Number::get);
        if limit.what.as_str() == GOOD && asked.is_none_or(|pct| !(50.0..100.0).contains(&pct)) {
            let found = asked.map_or("no `min`".to_owned(), |pct| format!("a `min` of {pct} %"));
            let expected = "the share of good trials asked for as `min`, from 50 to below 100 %; it is not used";
            return Some(line.problem(Code::OutOfRange, found, expected));
        }
        let ends = (limit.min.map(Number::get), limit.max.map(Number::get));
        let owned =
            |name: &Option<secondmelt_record::Name<'_>>| name.as_ref().map(ToString::to_string);
        let about = (limit.what.to_string(), owned(&limit.machine), owned(&limit.material));
        let first = *self.limits.entry(about).or_insert(ends);
        (first != ends).then(|| line.contradiction("limit", &limit.what))
    }

    pub(crate) fn material_of(&self, lot: &str) -> Option<&str> {
        self.materials_of.get(lot).map(String::as_str)
    }

    /// What a machine does, where a record says.
    pub(crate) fn does(&self, machine: &str) -> Option<Does> {
        self.machines.get(machine).map(|fact| fact.does)
    }

    /// The share of good trials that a limit asks for: of machine and material, of one of them, of
    /// all. None outside 0 to 100 %.
    pub(crate) fn asked(&self, machine: Option<&str>, material: Option<&str>) -> Option<f64> {
        let keys = [(machine, material), (machine, None), (None, material), (None, None)];
        let found = keys.iter().find_map(|(machine, material)| {
            let about = (GOOD.to_owned(), machine.map(str::to_owned), material.map(str::to_owned));
            self.limits.get(&about)?.0
        });
        found.map(|pct| pct / 100.0).filter(|share| *share > 0.0 && *share < 1.0)
    }

    /// The window of a setting: the tightest of machine, card of the material, and limits. The cards that come
    /// with the program tell of extruding, and say nothing of a printer.
    pub(crate) fn window(
        &self,
        name: &str,
        does: Option<Does>,
        machine: Option<&str>,
        material: Option<&str>,
    ) -> Ends {
        let mut window: Ends = (None, None);
        let mut narrow = |(low, high): Ends| {
            window = (tighter(window.0, low, f64::max), tighter(window.1, high, f64::min));
        };
        let fact = machine.and_then(|machine| self.machines.get(machine));
        if let Some(ends) = fact.and_then(|fact| fact.windows.get(name)) {
            narrow(*ends);
        }
        if name == "melt_c"
            && let Some(material) = material
        {
            narrow(self.card(material, does != Some(Does::Print)));
        }
        for ((what, of_machine, of_material), ends) in &self.limits {
            let holds =
                |of: &Option<String>, here: Option<&str>| of.is_none() || of.as_deref() == here;
            if what == name && holds(of_machine, machine) && holds(of_material, material) {
                narrow(*ends);
            }
        }
        window
    }

    /// Whether there is a card of a material, the lab's own or one that comes with the program.
    pub(crate) fn has_card(&self, material: &str) -> bool {
        self.cards.contains_key(material) || cards::card(material).is_some()
    }

    /// Melt temperatures of a material: of the lab's own card, else, where it is extruded, of the one that
    /// comes with the program.
    fn card(&self, material: &str, extrudes: bool) -> Ends {
        let own = self.cards.get(material).copied().filter(|ends| *ends != (None, None));
        let usual = || {
            cards::card(material).map(|card| (Some(card.extrusion.min), Some(card.extrusion.max)))
        };
        own.or_else(|| usual().filter(|_| extrudes)).unwrap_or((None, None))
    }
}

fn tighter(a: Option<f64>, b: Option<f64>, pick: fn(f64, f64) -> f64) -> Option<f64> {
    match (a, b) {
        (Some(a), Some(b)) => Some(pick(a, b)),
        (one, other) => one.or(other),
    }
}
