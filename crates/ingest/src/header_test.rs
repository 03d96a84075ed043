//! Headings as labs write them.

use super::*;

fn found(kind: Kind, heading: &str) -> Option<(String, Said)> {
    claim(kind, heading).map(|c| (c.target.name(), c.said))
}

fn unit(text: &str) -> Said {
    Said::Unit(text.to_owned())
}

#[test]
fn headings_of_labs_are_understood() {
    for (kind, heading, field, said) in [
        (Kind::Diameter, "Diameter X [µm]", "dx_mm", unit("µm")),
        (Kind::Diameter, "dx_mm", "dx_mm", Said::Own),
        (Kind::Diameter, "DX (mm)", "dx_mm", Said::Own),
        (Kind::Diameter, "D-X", "dx_mm", Said::Nothing),
        (Kind::Diameter, "dx", "dx_mm", Said::Nothing),
        (Kind::Diameter, "Time (s)", "time_s", Said::Own),
        (Kind::Diameter, "elapsed ms", "time_s", unit("ms")),
        (Kind::Diameter, "Position in m", "position_m", unit("m")),
        (Kind::Weighing, "mass (kg)", "mass_g", unit("kg")),
        (Kind::Weighing, "Net Mass / kg", "mass_g", unit("kg")),
        (Kind::Weighing, "Weight, lb", "mass_g", unit("lb")),
        (Kind::MeltFlow, "temp °F", "temp_c", unit("°F")),
        (Kind::MeltFlow, "Temperature (°C)", "temp_c", unit("°C")),
        (Kind::Step, "settings.melt_c", "settings.melt_c", Said::Own),
        (Kind::Step, "Settings.Melt [°C]", "settings.melt_c", unit("°C")),
        (Kind::Step, "settings.melt_c [°F]", "settings.melt_c", unit("°F")),
        (Kind::TurningPart, "rpm", "rpm", Said::Own),
        (Kind::Moisture, "Water content [%]", "moisture_pct", unit("%")),
        (Kind::Diameter, "Diameter (X)", "dx_mm", Said::Nothing),
        (Kind::Diameter, "Diameter (X) [in]", "dx_mm", unit("in")),
        (Kind::Diameter, "Diameter (X) in", "dx_mm", unit("in")),
        (Kind::Diameter, "⌀ 2 / µm", "dy_mm", unit("µm")),
        (Kind::Diameter, "D3 (mm)", "dz_mm", unit("mm")),
        (Kind::Machine, "Line speed max m/min", "line_speed_max_m_min", Said::Own),
        (Kind::Machine, "Line speed max cm/s", "line_speed_max_m_min", unit("cm/s")),
        (Kind::Machine, "line_speed_max_m_min", "line_speed_max_m_min", Said::Own),
        (Kind::Material, "Density in g/cm3", "density_g_cm3", unit("g/cm3")),
        (Kind::Moisture, "Moisture: %", "moisture_pct", unit("%")),
        (Kind::Moisture, "Water content g/kg", "moisture_pct", unit("g/kg")),
    ] {
        assert_eq!(found(kind, heading), Some((field.to_owned(), said)), "{heading}");
    }
    for heading in ["", "Fan speed", "src", "src.file", "kind", "settings"] {
        assert_eq!(found(Kind::Step, heading), None, "{heading}");
    }
}

#[test]
fn every_name_and_heading_of_the_tables_finds_its_own_field() {
    use secondmelt_record::Class;
    for kind in Kind::ALL.iter().filter(|k| k.class() == Class::Fact) {
        for field in fillable(*kind).filter(|f| !matches!(f.shape, Shape::Numbers)) {
            for heading in std::iter::once(&field.name).chain(field.headings) {
                let claim = claim(*kind, &heading.to_uppercase()).unwrap();
                assert_eq!(claim.target.name(), field.name, "{kind}: {heading}");
            }
        }
    }
}
