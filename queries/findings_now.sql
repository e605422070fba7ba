-- Findings in their newest version.
-- Row: one finding as last exported, of a case that is in the store.
-- Key: source, record.
-- Grain: versions fold, and sets of a case's findings (replaced_sets): all rows but those of superseded_findings.
-- vehicle: number of the case's (cases_now).
-- place: line of the export, the order in which causes of a case were found. cost: net, in minor units of its currency at the
--   prices of price_year.
-- Order: vehicle, within each slice of vehicles: who reads some vehicles passes over the rest of the file.
WITH superseded AS (
    SELECT batch, line, digest, 1 AS is_superseded
    FROM superseded_findings
),
cases_here AS (
    SELECT vehicle, source, case_id
    FROM cases_now
    WHERE vehicle >= :first_vehicle AND vehicle < :end_vehicle
)
SELECT
    c.vehicle,
    f.source,
    f.record,
    f.case_id,
    f.line AS place,
    f.cause,
    f.failure_mode,
    f.cylinder,
    f.confirmation,
    f.repair,
    f.cost,
    f.currency,
    f.price_year,
    f.labour_hours,
    f.payer
FROM findings AS f
JOIN cases_here AS c ON f.source = c.source AND f.case_id = c.case_id
LEFT JOIN superseded AS s ON f.batch = s.batch AND f.line = s.line AND f.digest = s.digest
WHERE s.is_superseded IS NULL
ORDER BY c.vehicle
