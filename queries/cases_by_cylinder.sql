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
    WHERE vehicle >= :first_vehicle AND vehicle < :end_vehicle
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
    WHERE p.vehicle >= :first_vehicle AND p.vehicle < :end_vehicle
),
several AS (
    SELECT line
    FROM lines
    GROUP BY line
    HAVING COUNT(*) > 1
),
with_befores AS (
    SELECT
        l.case_no, l.cylinder_key,
        LAG(l.ended_day) OVER (PARTITION BY l.line ORDER BY l.case_no) AS before_day,
        LAG(l.known_m) OVER (PARTITION BY l.line ORDER BY l.case_no) AS before_m,
        LAG(l.segment) OVER (PARTITION BY l.line ORDER BY l.case_no) AS before_segment
    FROM lines AS l
    JOIN several AS s ON l.line = s.line
)
SELECT
    l.case_no,
    l.cylinder_key,
    l.vehicle,
    l.confirmation,
    l.opened_day - b.before_day AS days_after,
    CASE WHEN l.segment = b.before_segment THEN l.known_m - b.before_m END AS metres_after
FROM lines AS l
LEFT JOIN with_befores AS b ON l.case_no = b.case_no AND l.cylinder_key = b.cylinder_key
