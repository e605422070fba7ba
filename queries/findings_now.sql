-- Findings in their newest version.
-- Row: one finding as last exported.
-- Key: source, record.
-- Grain: the findings of a case are a set, replaced as a whole by the newest export (export day, then batch) that has any
--   of them: the key of a finding may hold its cause, and a corrected cause is then another record. Within the set versions
--   fold as in visits_now. A case that ever had a finding in quarantine keeps the records of all its exports: a repaired
--   record comes alone, in a batch of its own.
-- place: line of the export, the order in which causes of a case were found. cost: net, in minor units of its currency at the
--   prices of price_year.
-- Order: none, written to a file whose readers sum whole numbers or order for themselves.
WITH last_exports AS (
    SELECT DISTINCT ON (source, case_id) source, case_id, export_date, batch AS last_batch
    FROM findings
    ORDER BY source, case_id, export_date DESC NULLS LAST, last_batch DESC
),
in_quarantine AS (
    SELECT source, record AS held
    FROM quarantine
    WHERE target = 'findings'
    UNION
    SELECT source, SPLIT_PART(record, '/', 1) AS held
    FROM quarantine
    WHERE target = 'findings'
),
held_back AS (
    SELECT source, case_id, MAX(in_parts) AS in_parts
    FROM (
        SELECT f.source, f.case_id, 1 AS in_parts
        FROM findings AS f
        JOIN in_quarantine AS q ON f.source = q.source AND f.case_id = q.held
        UNION ALL
        SELECT f.source, f.case_id, 1 AS in_parts
        FROM findings AS f
        JOIN in_quarantine AS q ON f.source = q.source AND f.record = q.held
    ) AS either
    GROUP BY source, case_id
),
of_sets AS (
    SELECT
        f.source, f.record, f.case_id, f.line, f.cause, f.failure_mode, f.cylinder, f.confirmation, f.repair,
        f.cost, f.currency, f.price_year, f.labour_hours, f.payer, f.export_date, f.batch, f.digest
    FROM findings AS f
    JOIN last_exports AS e ON f.source = e.source AND f.case_id = e.case_id
    LEFT JOIN held_back AS h ON f.source = h.source AND f.case_id = h.case_id
    WHERE f.batch = e.last_batch OR h.in_parts = 1
),
newest AS (
    SELECT DISTINCT ON (source, record)
        source, record, case_id, line, cause, failure_mode, cylinder, confirmation, repair, cost, currency, price_year, labour_hours, payer,
        export_date, batch, digest
    FROM of_sets
    ORDER BY source, record, export_date DESC NULLS LAST, batch DESC, line DESC, digest DESC
)
SELECT
    source,
    record,
    case_id,
    line AS place,
    cause,
    failure_mode,
    cylinder,
    confirmation,
    repair,
    cost,
    currency,
    price_year,
    labour_hours,
    payer
FROM newest
