//! Trouble codes against the layout of ISO 15031-6 and SAE J2012, coded once more in an independent Python program;
//! the standards themselves are not open, so the rules are from memory.

use boretally::domain::trouble_code::{InjectorFault, TroubleCode};

fn code(text: &str) -> TroubleCode {
    TroubleCode::parse(text).unwrap_or_else(|| panic!("{text} is a code"))
}

#[test]
fn two_byte_words() {
    for (word, text) in [
        (0x0133, "P0133"),
        (0x0300, "P0300"),
        (0x0301, "P0301"),
        (0x0309, "P0309"),
        (0x0310, "P0310"),
        (0x0312, "P0312"),
        (0x0420, "P0420"),
        (0x1234, "P1234"),
        (0x3000, "P3000"),
        (0x4035, "C0035"),
        (0x4123, "C0123"),
        (0x8123, "B0123"),
        (0x9A01, "B1A01"),
        (0xC100, "U0100"),
        (0xC158, "U0158"),
    ] {
        assert_eq!(
            TroubleCode::from_word(word).to_string(),
            text,
            "{word:#06x}"
        );
    }
}

#[test]
fn misfire_codes() {
    for n in 0..=20u8 {
        let expected = (1..=12).contains(&n).then_some(n);
        assert_eq!(
            code(&format!("P03{n:02}")).misfire_cylinder(),
            expected,
            "P03{n:02}"
        );
    }
}

#[test]
fn injector_codes() {
    for cylinder in 1..=12u16 {
        let n = u8::try_from(cylinder).expect("small");
        let circuit = code(&format!("P{:04}", 200 + cylinder));
        assert_eq!(
            circuit.injector(),
            Some((n, InjectorFault::Circuit)),
            "{circuit}"
        );
        let faults = [
            InjectorFault::Low,
            InjectorFault::High,
            InjectorFault::Contribution,
        ];
        for (k, fault) in (0..).zip(faults) {
            let c = code(&format!("P{:04}", 261 + 3 * (cylinder - 1) + k));
            assert_eq!(c.injector(), Some((n, fault)), "{c}");
        }
    }
    // The ends of the families, as the list of the source has them.
    assert_eq!(code("P0261").injector(), Some((1, InjectorFault::Low)));
    assert_eq!(
        code("P0296").injector(),
        Some((12, InjectorFault::Contribution))
    );
    assert_eq!(code("P0200").injector(), None);
}

#[test]
fn coil_codes_name_a_letter() {
    for (n, letter) in (1..=12).zip("ABCDEFGHIJKL".chars()) {
        let c = code(&format!("P{:04}", 350 + n));
        assert_eq!(c.coil_letter(), Some(letter), "{c}");
        assert_eq!(c.misfire_cylinder(), None);
        assert_eq!(c.injector(), None);
    }
}
