//! Currencies: which codes there are, and how many minor units a major one has.

/// Active codes of ISO 4217 (from memory; funds and metals left out).
const CODES: &str = "AED AFN ALL AMD ANG AOA ARS AUD AWG AZN BAM BBD BDT BGN BHD BIF BMD BND BOB BRL BSD BTN BWP BYN BZD \
    CAD CDF CHF CLP CNY COP CRC CUP CVE CZK DJF DKK DOP DZD EGP ERN ETB EUR FJD FKP GBP GEL GHS GIP GMD GNF GTQ GYD HKD \
    HNL HTG HUF IDR ILS INR IQD IRR ISK JMD JOD JPY KES KGS KHR KMF KPW KRW KWD KYD KZT LAK LBP LKR LRD LSL LYD MAD MDL \
    MGA MKD MMK MNT MOP MRU MUR MVR MWK MXN MYR MZN NAD NGN NIO NOK NPR NZD OMR PAB PEN PGK PHP PKR PLN PYG QAR RON RSD \
    RUB RWF SAR SBD SCR SDG SEK SGD SHP SLE SOS SRD SSP STN SVC SYP SZL THB TJS TMT TND TOP TRY TTD TWD TZS UAH UGX USD \
    UYU UZS VED VES VND VUV WST XAF XCD XOF XPF YER ZAR ZMW ZWG";

const WITHOUT_MINOR_UNIT: &str = "BIF CLP DJF GNF ISK JPY KMF KRW PYG RWF UGX VND VUV XAF XOF XPF";
const THOUSANDTHS: &str = "BHD IQD JOD KWD LYD OMR TND";

/// The code in capitals, if there is such a currency; the signs of three currencies are read, too.
pub fn parse(text: &str) -> Option<&'static str> {
    let code = match text {
        "\u{20ac}" => "EUR",
        "\u{a3}" => "GBP",
        other => other,
    };
    CODES
        .split_whitespace()
        .find(|c| c.eq_ignore_ascii_case(code))
}

/// How many decimals the minor unit has: 2 for cents, 0 for yen.
pub fn exponent(code: &str) -> u32 {
    let among = |list: &str| list.split_whitespace().any(|c| c == code);
    if among(WITHOUT_MINOR_UNIT) {
        0
    } else if among(THOUSANDTHS) {
        3
    } else {
        2
    }
}

/// The amount without the sign of its currency before or behind it.
pub fn strip_sign(text: &str) -> &str {
    text.trim_matches(|c: char| {
        matches!(c, '$' | '\u{20ac}' | '\u{a3}' | '\u{a5}') || c.is_whitespace()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn knows_codes_and_their_minor_units() {
        assert_eq!(parse("eur"), Some("EUR"));
        assert_eq!(parse("EURO"), None);
        assert_eq!(
            (exponent("EUR"), exponent("JPY"), exponent("KWD")),
            (2, 0, 3)
        );
        assert_eq!(strip_sign("$ 12.50"), "12.50");
        for code in WITHOUT_MINOR_UNIT
            .split_whitespace()
            .chain(THOUSANDTHS.split_whitespace())
        {
            assert_eq!(parse(code), Some(code));
        }
    }
}
