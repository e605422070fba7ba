-- Test steps in their newest version.
-- Row: one test step as last exported; one cylinder where the test looks at cylinders.
-- Key: source, record.
-- Grain: versions fold as in visits_now. place: the step's number, the order in which the tests of a case were done;
--   all cylinders of one test may share it. reading and unit: in the canonical unit of the test.
-- Order: none, written to a file whose readers order for themselves.
WITH newest AS (
    SELECT DISTINCT ON (source, record) *
    FROM tests
    ORDER BY source, record, export_date DESC NULLS LAST, batch DESC, line DESC, digest DESC
)
SELECT
    source,
    record,
    case_id,
    step AS place,
    test,
    cylinder,
    reading,
    unit,
    result,
    leak_path,
    minutes,
    minutes_from
FROM newest
