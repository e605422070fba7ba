//! What must be said beside the numbers: notices for every output, and hazards of the tests.
//!
//! Statistics suggest an order of tests; the person at the vehicle meets shop air, fuel and hot coolant. Each text
//! keeps the mark of its origin: "source" (the named text was read), "from memory" (the named standard is the place
//! to check), "computed", or "common practice".

/// Something that stands with every output, whatever the question.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Notice {
    /// Stable id.
    pub id: &'static str,
    /// One or two sentences.
    pub text: &'static str,
    /// Where it comes from.
    pub mark: &'static str,
}

/// A hazard of working on the vehicle.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Hazard {
    /// Stable id; tests of the catalog name it.
    pub id: &'static str,
    /// A few words.
    pub title: &'static str,
    /// What to do, in a sentence or two.
    pub text: &'static str,
    /// Where it comes from.
    pub mark: &'static str,
    /// Whether it stands with every test plan.
    pub always: bool,
}

/// The notices for every output, in the order in which they are printed.
pub const NOTICES: &[Notice] = &[
    Notice {
        id: "order-not-diagnosis",
        text: "These statistics suggest an order of tests. They do not diagnose the vehicle in the bay: test it.",
        mark: "common practice",
    },
    Notice {
        id: "maker-first",
        text: "The vehicle maker's service information, safety campaigns and published specifications come first. Comparison ranges shown here are not specifications.",
        mark: "common practice",
    },
    Notice {
        id: "local-law",
        text: "Local codes, licensing, and the laws on emission controls and odometers apply.",
        mark: "from memory: Clean Air Act s. 203(a)(3); 49 USC 32703",
    },
    Notice {
        id: "qualified-people",
        text: "The work is for qualified people.",
        mark: "common practice",
    },
    Notice {
        id: "own-records",
        text: "The numbers rest on the records named beside them, with their counts and dates. Starting assumptions are marked as such.",
        mark: "common practice",
    },
    Notice {
        id: "no-customer-data",
        text: "Charts that are passed on must hold no data that identifies a customer.",
        mark: "common practice",
    },
];

const fn hazard(
    id: &'static str,
    title: &'static str,
    text: &'static str,
    mark: &'static str,
) -> Hazard {
    Hazard {
        id,
        title,
        text,
        mark,
        always: false,
    }
}

const fn always(h: Hazard) -> Hazard {
    Hazard { always: true, ..h }
}

/// The hazards, in the order in which they are printed.
pub const HAZARDS: &[Hazard] = &[
    always(hazard(
        "hybrid",
        "hybrid and high voltage",
        "Orange-marked circuits are for trained people only: power down, take the key away, wait, verify zero. The engine may start by itself; cranking tests need the maker's own mode.",
        "common practice; marking from memory: 49 CFR 571.305",
    )),
    always(hazard(
        "eyes_ears_skin",
        "eyes, ears, skin",
        "Wear eye or face protection, gloves against fuel, used oil and coolant, and hearing protection where it is loud.",
        "from memory: 29 CFR 1910.133, .138, .95",
    )),
    always(hazard(
        "lifting",
        "lifting",
        "Use rated stands on level ground, block the wheels, and block the load after jacking.",
        "from memory: 29 CFR 1910.244(a)",
    )),
    hazard(
        "shop_air",
        "cylinder under shop air",
        "At 690 kPa (100 psi) a piston of 86 to 89 mm is pushed with about 4.0 to 4.3 kN (900 to 960 lbf): the crank turns hard unless it stands exactly at top dead centre. Leave no bar on the crank bolt, keep hands, tools and hair clear, gearbox as the procedure says, raise the pressure slowly and release it first.",
        "force computed; source: public technical-education course, cylinder leakage module (\"engine tends to spin\"); rest common practice",
    ),
    hazard(
        "compressed_air_cleaning",
        "cleaning with compressed air",
        "Stay below 30 psi (207 kPa) at the nozzle, with chip guarding and protective equipment.",
        "source: 29 CFR 1910.242(b)",
    ),
    hazard(
        "exhaust_gas",
        "exhaust gas",
        "Run engines only with extraction. Carbon monoxide limit 50 ppm averaged over 8 hours; recommended criteria 35 ppm average, 200 ppm ceiling.",
        "source: 29 CFR 1910.1000 table Z-1; NIOSH criteria 1972",
    ),
    hazard(
        "fuel",
        "fuel under pressure, fuel vapour",
        "Relieve pressure by the maker's procedure. A direct-injection rail stays at very high pressure and its jet can pierce skin. Keep ignition sources away, also when gas is used to find an intake leak. Open plug holes spray while cranking: disable the fuel.",
        "common practice; from memory: 29 CFR 1910.106",
    ),
    hazard(
        "secondary_ignition",
        "secondary ignition",
        "Tens of kilovolts: never hold leads, never crank with an open, ungrounded coil. People with implanted devices stay away.",
        "common practice",
    ),
    hazard(
        "dead_cylinder",
        "running with a dead cylinder",
        "Raw fuel overheats the catalyst and washes the bore: keep tests short, cut fuel rather than spark, stop if the malfunction lamp flashes.",
        "common practice",
    ),
    hazard(
        "hot_parts",
        "hot parts and coolant",
        "Exhaust, plugs and coolant burn. Never open a hot cooling system; let an aluminium head cool before plugs come out.",
        "common practice",
    ),
    hazard(
        "rotating_parts",
        "rotating parts",
        "Belts turn and fans start by themselves: no loose clothing, and tell everyone before cranking from a remote switch.",
        "common practice",
    ),
    hazard(
        "chemicals",
        "chemicals and waste",
        "Read the data sheets. Block-test fluid, used oil and coolant go to proper waste.",
        "from memory: 29 CFR 1910.1200; 40 CFR 279",
    ),
    hazard(
        "wet_oil",
        "oil for the wet test",
        "A few millilitres only: liquid lock bends rods. Never on a diesel. Expect foul smoke afterwards.",
        "common practice",
    ),
    hazard(
        "seized_plugs",
        "seized plugs, brittle connectors",
        "Stop and tell the customer before forcing anything. Tear-down needs written authorisation.",
        "common practice; from memory: 16 CCR 3353",
    ),
    hazard(
        "interference_engine",
        "interference engine",
        "Do not crank when the timing drive may be broken or have jumped.",
        "common practice",
    ),
];

/// The hazard of that id.
pub fn hazard_by_id(id: &str) -> Option<&'static Hazard> {
    HAZARDS.iter().find(|h| h.id == id)
}

/// The hazards that stand with a plan whose tests name `ids`: those, and the ones that always stand; each once, in
/// printing order.
pub fn hazards_of<'a>(ids: impl IntoIterator<Item = &'a str>) -> Vec<&'static Hazard> {
    let named: Vec<&str> = ids.into_iter().collect();
    HAZARDS
        .iter()
        .filter(|h| h.always || named.contains(&h.id))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ids_are_unique_and_marked() {
        let mut ids: Vec<&str> = HAZARDS.iter().map(|h| h.id).collect();
        ids.extend(NOTICES.iter().map(|n| n.id));
        let n = ids.len();
        ids.sort_unstable();
        ids.dedup();
        assert_eq!(ids.len(), n);
        assert!(
            HAZARDS
                .iter()
                .all(|h| !h.mark.is_empty() && !h.text.is_empty())
        );
        assert!(
            NOTICES
                .iter()
                .all(|n| !n.mark.is_empty() && !n.text.is_empty())
        );
    }

    #[test]
    fn the_force_on_the_piston_is_as_said() {
        // Closed form: F = p x pi d^2 / 4 with p = 690 kPa; in kN with d in metres.
        for (bore_mm, force_kn) in [(86.0, 4.0), (89.0, 4.3)] {
            let d: f64 = bore_mm / 1000.0;
            let force = 690.0 * std::f64::consts::PI * d * d / 4.0;
            assert!((force - force_kn).abs() < 0.05, "{force}");
        }
    }

    #[test]
    fn a_plan_keeps_what_always_stands() {
        let found = hazards_of(["wet_oil", "wet_oil", "no_such"]);
        assert_eq!(found.iter().filter(|h| h.id == "wet_oil").count(), 1);
        assert!(found.iter().any(|h| h.id == "hybrid"));
        assert!(hazard_by_id("no_such").is_none());
    }
}
