//! What a column's name says: words for our fields in English, German, French and Spanish.

use crate::ingest::mapping::Field;

/// What a column seems to hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Meaning {
    /// A field of a table.
    Field(Field),
    /// A column of units.
    Unit,
}

use Field::*;

/// Phrases in plain form (lower case, no accents, single spaces), parted by commas. The longest phrase found in a name wins.
const PHRASES: &[(Meaning, &str)] = &[
    (
        Meaning::Field(Vehicle),
        "vin, chassis, chassis no, chassis number, fin, fahrgestell, fahrgestellnr, \
         fahrgestellnummer, bastidor, vehicle, vehicle id, unit no, unit number, unit id, \
         fleet no, asset, fahrzeug, vehicule, vehiculo, numero de serie",
    ),
    (
        Meaning::Field(Site),
        "site, shop, location, loc, branch, depot, workshop, filiale, standort, betrieb, agence, \
         atelier, sucursal, taller, garage",
    ),
    (
        Meaning::Field(Opened),
        "date, in date, date in, opened, open date, date opened, visit date, ro date, order date, \
         datum, eingang, annahme, auftragsdatum, annahmedatum, ouverture, date entree, \
         date d entree, fecha, fecha entrada, fecha de entrada, apertura, day",
    ),
    (
        Meaning::Field(Closed),
        "closed, close date, date closed, date out, out date, completed, finished, fertig, \
         abschluss, fertigstellung, cloture, date sortie, date de sortie, cierre, fecha salida, \
         fecha de salida",
    ),
    (
        Meaning::Field(Odometer),
        "odometer, odo, mileage, miles, mi, km, kms, km in, miles in, kilometer, kilometers, \
         laufleistung, km stand, kilometerstand, tacho, tachostand, kilometrage, compteur, \
         kilometraje, kilometros, odometro",
    ),
    (
        Meaning::Field(Engine),
        "engine, engine text, engine code, engine type, motor, motortyp, motorkennung, moteur, \
         type moteur",
    ),
    (
        Meaning::Field(ModelYear),
        "my, model year, year, yr, baujahr, bj, modelljahr, annee, annee modele, ano, ano modelo",
    ),
    (
        Meaning::Field(EngineReplaced),
        "engine replaced, new engine, motor neu, motor ersetzt, neuer motor, moteur neuf, \
         moteur remplace, motor nuevo",
    ),
    (
        Meaning::Field(CaseId),
        "order, order no, order number, ro, ro number, ro no, work order, job, job no, ticket, \
         case, case id, id, auftrag, auftragsnr, auftrags nr, auftragsnummer, ordre, numero ordre, \
         n ordre, orden, numero de orden, n orden",
    ),
    (
        Meaning::Field(Codes),
        "code, codes, dtc, dtcs, trouble codes, fault codes, fehlercode, fehlercodes, \
         fehlerspeicher, codes defaut, code defaut, codigos, codigos de averia",
    ),
    (
        Meaning::Field(ComplaintCylinder),
        "complaint cylinder, misfire cylinder, beanstandeter zylinder",
    ),
    (
        Meaning::Field(Outcome),
        "outcome, status, disposition, statut, estado, fallausgang",
    ),
    (
        Meaning::Field(Cause),
        "cause, root cause, confirmed cause, ursache, schadensursache, causa, defect, diagnosis, \
         diagnose, diagnostic, diagnostico",
    ),
    (
        Meaning::Field(FailureMode),
        "failure mode, mode, schadensbild, fehlerart, mode de defaillance, modo de fallo",
    ),
    (
        Meaning::Field(Cylinder),
        "cylinder, cyl, zylinder, zyl, cylindre, cilindro, cil",
    ),
    (
        Meaning::Field(Confirmation),
        "confirmation, confirmed, proof, bestatigung, nachweis, preuve, confirmacion",
    ),
    (
        Meaning::Field(Repair),
        "repair, correction, work done, reparatur, arbeit, reparation, reparacion, trabajo",
    ),
    (
        Meaning::Field(LabourHours),
        "labour, labor, labour hours, labor hours, hours, hrs, stunden, arbeitsstunden, \
         arbeitszeit, heures, horas",
    ),
    (
        Meaning::Field(Cost),
        "cost, net, net cost, amount, price, total, net total, kosten, netto, betrag, preis, cout, \
         montant, prix, coste, importe, precio",
    ),
    (
        Meaning::Field(Currency),
        "currency, wahrung, waehrung, devise, moneda, divisa",
    ),
    (Meaning::Field(PriceYear), "price year, preisjahr"),
    (
        Meaning::Field(Payer),
        "payer, paid by, pay type, kostentrager, kostentraeger, zahler, payeur, pagador",
    ),
    (
        Meaning::Field(Step),
        "step, step no, seq, schritt, etape, paso",
    ),
    (
        Meaning::Field(Test),
        "test, test done, prufung, pruefung, messung, essai, prueba, ensayo",
    ),
    (
        Meaning::Field(Reading),
        "reading, value, measured, measurement, messwert, wert, valeur, mesure, lectura, valor",
    ),
    (
        Meaning::Field(Result),
        "result, test result, verdict, ergebnis, befund, resultat, resultado",
    ),
    (
        Meaning::Field(LeakPath),
        "leak path, path, leak to, leckweg, undicht, fuite, fuga",
    ),
    (
        Meaning::Field(Minutes),
        "minutes, mins, min, bench time, minuten, duree, minutos",
    ),
    (
        Meaning::Unit,
        "unit, units, u, uom, odo unit, einheit, unite, unidad",
    ),
];

/// What a column's name says, with the phrase that says it.
pub fn meaning(name: &str) -> Option<(Meaning, &'static str)> {
    // Of a nested name the last two parts count: "case.finding.mode" is a mode, "unit.odometer.unit" a unit.
    let mut parts = name.rsplit('.').filter(|p| !p.is_empty());
    let (last, above) = (parts.next().unwrap_or(name), parts.next());
    if above.is_some() && plain(last) == "unit" {
        return Some((Meaning::Unit, "unit"));
    }
    let words = plain(&format!("{} {last}", above.unwrap_or("")));
    let padded = format!(" {words} ");
    PHRASES
        .iter()
        .flat_map(|(meaning, phrases)| phrases.split(", ").map(move |p| (*meaning, p)))
        .filter(|(_, phrase)| padded.contains(&format!(" {phrase} ")))
        .fold(None, |best: Option<(Meaning, &str)>, found| match best {
            // The first of equally long ones, which is the more common meaning.
            Some(best) if best.1.len() >= found.1.len() => Some(best),
            _ => Some(found),
        })
}

/// The unit that a column's name carries: "Odometer (mi)", "Km in", "Compression psi".
pub fn unit_word(name: &str) -> Option<&'static str> {
    const UNITS: &[(&str, &[&str])] = &[
        (
            "km",
            &[
                "km",
                "kms",
                "kilometer",
                "kilometers",
                "kilometrage",
                "kilometraje",
                "kilometerstand",
                "kilometros",
            ],
        ),
        ("mi", &["mi", "miles", "mileage"]),
        ("psi", &["psi"]),
        ("kPa", &["kpa"]),
        ("bar", &["bar"]),
        ("%", &["percent", "pct", "prozent"]),
        ("ohm", &["ohm", "ohms"]),
        ("min", &["min", "mins", "minutes"]),
        ("h", &["h", "hrs", "hours", "stunden", "heures", "horas"]),
    ];
    let words = plain(name);
    UNITS
        .iter()
        .find(|(_, spellings)| words.split(' ').any(|w| spellings.contains(&w)))
        .map(|(unit, _)| *unit)
}

/// Lower case without accents, every other sign a space, words parted where small letters meet capitals.
fn plain(name: &str) -> String {
    let mut text = String::new();
    let mut previous_small = false;
    for c in name.chars() {
        if c.is_uppercase() && previous_small {
            text.push(' ');
        }
        previous_small = c.is_lowercase();
        for c in c.to_lowercase() {
            match c {
                '\u{e0}'..='\u{e5}' => text.push('a'),
                '\u{e7}' => text.push('c'),
                '\u{e8}'..='\u{eb}' => text.push('e'),
                '\u{ec}'..='\u{ef}' => text.push('i'),
                '\u{f1}' => text.push('n'),
                '\u{f2}'..='\u{f6}' => text.push('o'),
                '\u{f9}'..='\u{fc}' => text.push('u'),
                '\u{df}' => text.push_str("ss"),
                c if c.is_alphanumeric() => text.push(c),
                _ => text.push(' '),
            }
        }
    }
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_in_four_languages_are_understood() {
        for (name, field) in [
            ("VIN", Vehicle),
            ("Fahrgestell-Nr", Vehicle),
            ("In date", Opened),
            ("Auftragsdatum", Opened),
            ("Km in", Odometer),
            ("Odometer (mi)", Odometer),
            ("Kilom\u{e9}trage", Odometer),
            ("Laufleistung", Odometer),
            ("Model year", ModelYear),
            ("Baujahr", ModelYear),
            ("A\u{f1}o modelo", ModelYear),
            ("RO", CaseId),
            ("Auftrags-Nr", CaseId),
            ("workOrder", CaseId),
            ("Zyl.", Cylinder),
            ("Cilindro", Cylinder),
            ("Ursache", Cause),
            ("R\u{e9}paration", Repair),
            ("Pr\u{fc}fung", Test),
            ("Messwert", Reading),
            ("Motor", Engine),
            ("Motor neu", EngineReplaced),
            ("Close date", Closed),
        ] {
            assert_eq!(
                meaning(name).map(|m| m.0),
                Some(Meaning::Field(field)),
                "{name}"
            );
        }
        assert_eq!(
            meaning("case.finding.mode").map(|m| m.0),
            Some(Meaning::Field(FailureMode))
        );
        assert_eq!(
            meaning("unit.odometer.unit").map(|m| m.0),
            Some(Meaning::Unit)
        );
        assert_eq!(meaning("Customer phone"), None);
        assert_eq!(meaning("U").map(|m| m.0), Some(Meaning::Unit));
    }

    #[test]
    fn units_in_names() {
        assert_eq!(unit_word("Km in"), Some("km"));
        assert_eq!(unit_word("Odometer (mi)"), Some("mi"));
        assert_eq!(unit_word("Compression psi"), Some("psi"));
        assert_eq!(unit_word("Reading"), None);
    }
}
