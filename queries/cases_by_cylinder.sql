-- Cases with a finding, cylinder by cylinder, each with how long after the case before it came: what does not depend on any rule
-- of what is a comeback or a failure.
-- Row: one case and one cylinder.
-- Key: case_no, cylinder_key.
-- Grain: findings of one cylinder of one case fold. confirmation: the highest of them. The case before: of the same vehicle and
--   cylinder, in order of case_no (placed_cases).
-- days_after: from the end of the case before to the opening of this one; unknown where there is none before. metres_after:
--   likewise on the odometer; unknown also where a reading is, or where they stand in two odometer segments.
-- Order: none, written to a file whose readers sum whole numbers or order for themselves.
WITH by_case AS (
    SELECT case_no, cylinder_key, MAX(confirmation) AS confirmation
    FROM failures
    GROUP BY case_no, cylinder_key
),
lines AS (
    SELECT
        b.case_no, b.cylinder_key, b.confirmation,
        p.vehicle, p.known_m, p.segment,
        p.vehicle * 1000 + b.cylinder_key AS line,
        CAST(p.opened AS BIGINT) AS opened_day,
        CAST(p.ended AS BIGINT) AS ended_day
    FROM by_case AS b
    JOIN placed_cases AS p ON b.case_no = p.case_no
),
with_befores AS (
    SELECT
        case_no, cylinder_key, confirmation, vehicle, known_m, segment, opened_day,
        LAG(ended_day) OVER (PARTITION BY line ORDER BY case_no) AS before_day,
        LAG(known_m) OVER (PARTITION BY line ORDER BY case_no) AS before_m,
        LAG(segment) OVER (PARTITION BY line ORDER BY case_no) AS before_segment
    FROM lines
)
SELECT
    case_no,
    cylinder_key,
    vehicle,
    confirmation,
    opened_day - before_day AS days_after,
    CASE WHEN segment = before_segment THEN known_m - before_m END AS metres_after
FROM with_befores
