//! Which way the melt flow rate of a polymer went over repeated passes, where a study was
//! found that says so. For comparison with a lab's own drift, never in place of it.

/// Which way the melt flow rate goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Direction {
    /// Up: chains are cut.
    Up,
    /// Down: chains branch and link.
    Down,
    /// Neither, or hardly.
    Level,
}

/// A study of repeated passes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Published {
    /// Polymer (ISO 1043-1).
    pub polymer: &'static str,
    /// Which way the melt flow rate went.
    pub direction: Direction,
    /// What was seen.
    pub seen: &'static str,
    /// Where; an abstract unless said.
    pub source: &'static str,
}

/// The studies of a polymer.
pub fn published(polymer: &str) -> impl Iterator<Item = &'static Published> {
    STUDIES.iter().filter(move |study| study.polymer == polymer)
}

const STUDIES: &[Published] = &[
    Published {
        polymer: "PS",
        direction: Direction::Up,
        seen: "molar mass down by 17 % over five passes",
        source: "the effects of extrusion on the molecular and rheological properties of \
                 general-purpose polystyrene",
    },
    Published {
        polymer: "PE-HD",
        direction: Direction::Down,
        seen: "zero-shear viscosity up to six times as high, mostly between cycles 4 and 8",
        source: "Zhang et al. 2024, Polymer, doi 10.1016/j.polymer.2024.126866",
    },
    Published {
        polymer: "PE-HD",
        direction: Direction::Down,
        seen: "melt index falls steadily; impact strength falls after the third pass",
        source: "study of multiple-pass extrusion of dairy-grade HDPE (University of Wollongong)",
    },
    Published {
        polymer: "PE-LD",
        direction: Direction::Level,
        seen: "little change before the 40th pass",
        source: "Jin et al. 2012, Polymer Degradation and Stability 97, 2262",
    },
    Published {
        polymer: "ABS",
        direction: Direction::Level,
        seen: "flow index the same over ten cycles, impact strength slightly lower",
        source: "Perez et al. 2010, Journal of Polymers and the Environment 18, 71",
    },
    Published {
        polymer: "PS-HI",
        direction: Direction::Level,
        seen: "melt index the same over four passes",
        source: "Nunes et al. 2015, 13th Brazilian polymer congress",
    },
    Published {
        polymer: "PLA",
        direction: Direction::Up,
        seen: "nearly the same to the third cycle, a marked rise after the fourth",
        source: "Aguero et al. 2019, Polymers 11, 1908",
    },
    Published {
        polymer: "PLA",
        direction: Direction::Up,
        seen: "melt flow rate steadily higher over ten extrusions, impact strength clearly lower",
        source: "Zenkiewicz et al. 2009, Polymer Testing 28, 412",
    },
    Published {
        polymer: "PP",
        direction: Direction::Up,
        seen: "melt index up over five passes, the more the hotter and longer",
        source: "thermal degradation of polypropylene reprocessed in a co-rotating twin-screw extruder",
    },
    Published {
        polymer: "PP",
        direction: Direction::Up,
        seen: "scrap with 70 % regrind drifts like repeated passes without refreshing",
        source: "Spicker et al. 2019, Food Packaging and Shelf Life 19, 174",
    },
    Published {
        polymer: "PET",
        direction: Direction::Up,
        seen: "each processing lowers the intrinsic viscosity; water in the feed speeds it",
        source: "Polymer Engineering and Science 34, 1219 (1994)",
    },
];
