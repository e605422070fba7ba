//! What was noticed about a row that was kept.

use super::reason::rules;

rules! {
    /// A rule touched the row; the row was kept.
    Flag {
    OdometerMissing "odometer-missing" "The odometer is empty; it counts as unknown."
        "nothing; the row still counts where no odometer is needed"
    OdometerPlaceholder "odometer-placeholder" "The odometer is 0, 1 or all nines, which shops type when they do not know; it counts as unknown."
        "nothing; the row still counts where no odometer is needed"
    FieldQuarantined "field-quarantined" "An optional field could not be used and was left empty; its value is in quarantine."
        "see the quarantine entry of the same line; repair and ingest the record again"
    PartlyQuarantined "partly-quarantined" "Another row of the same record could not be used; this one stands."
        "see the quarantine entry of the same line; repair and ingest the record again"
    VinCheckDigit "vin-check-digit" "The vehicle number fails its check digit, which only some markets require."
        "compare with the vehicle's papers"
    VehicleByUnit "vehicle-by-unit" "The vehicle number cannot be used; the vehicle is known by the shop's unit number."
        "correct the vehicle number"
    EngineUnknown "engine-unknown" "No engine family matches the engine text and model year; the family counts as unknown."
        "add a match rule to families.toml and ingest the file again"
    EngineAmbiguous "engine-ambiguous" "More than one engine family matches; the family counts as unknown."
        "narrow the match rules in families.toml, or map engine_family directly"
    ClosedBeforeOpened "closed-before-opened" "The case is closed before it was opened."
        "correct one of the dates"
    CauseUnmapped "cause-unmapped" "The cause is not in the catalog or the code list; it is kept as other_unmapped and never forced."
        "add it to [codes.cause]"
    OutcomeUnmapped "outcome-unmapped" "The outcome is not among the known words or in the code list; it is kept as other_unmapped and never forced."
        "add it to [codes.outcome]"
    SiteUnlisted "site-unlisted" "The mapping lists site names and this one is not among them; it is kept as it stands."
        "add it to [codes.site]"
    LeakageOverHalf "leakage-over-50" "More than half of the air is said to be lost; it may be the share held."
        "ask the shop once; set leakage = \"held\" under [format] if it writes what is held"
    CostDeclined "cost-declined" "The repair was declined, so the amount was never paid; the cost stays empty."
        "nothing"
    CostZeroUnpaid "cost-zero" "The cost is 0 and nothing says who paid; it may be warranty or internal."
        "map payer, so that unpaid work does not look cheap"
    CostNegative "cost-negative" "The cost is below 0 (a credit)."
        "give the net amount of the repair"
    CodeUnreadable "code-unreadable" "Part of the trouble-code text is not a trouble code and was left out."
        "correct the cell"
    ExportDateMissing "export-date-missing" "The record's export date is empty or not a date; its version counts as the oldest."
        "correct the cell"
    }
}
