-- Cases with a finding that counts, each in the failure it belongs to: comebacks stand in the chain of the case they came back to.
-- Row: one case and one cylinder.
-- Key: vehicle, cylinder_key, turn; also source, case_id, cylinder_key.
-- Grain: findings of one cylinder of one case fold. turn: place among the cases of this cylinder of the vehicle, by time.
-- A case continues the chain when it opened at most :window_days after the case before it ended and at most :window_m
-- further on; a distance that is unknown, or spans two odometer segments, does not break a chain.
-- position_m: where the case stands on the engine's clock; unknown stays unknown.
-- Order: none, written to a file whose readers sum whole numbers or order for themselves.
WITH cases_by_cylinder AS (
    SELECT DISTINCT source, case_id, cylinder_key
    FROM failures
),
in_order AS (
    SELECT
        b.cylinder_key,
        p.source, p.case_id, p.vehicle, p.opened, p.known_m, p.segment, p.position_m,
        CAST(p.opened AS BIGINT) AS opened_day,
        CAST(p.ended AS BIGINT) AS ended_day
    FROM cases_by_cylinder AS b
    JOIN placed_cases AS p ON b.source = p.source AND b.case_id = p.case_id
),
with_befores AS (
    SELECT
        cylinder_key, source, case_id, vehicle, opened, opened_day, known_m, segment, position_m,
        CAST(ROW_NUMBER() OVER (PARTITION BY vehicle, cylinder_key ORDER BY opened_day, ended_day, source, case_id) AS BIGINT) AS turn,
        LAG(ended_day) OVER (PARTITION BY vehicle, cylinder_key ORDER BY opened_day, ended_day, source, case_id) AS before_day,
        LAG(known_m) OVER (PARTITION BY vehicle, cylinder_key ORDER BY opened_day, ended_day, source, case_id) AS before_m,
        LAG(segment) OVER (PARTITION BY vehicle, cylinder_key ORDER BY opened_day, ended_day, source, case_id) AS before_segment
    FROM in_order
),
with_starts AS (
    SELECT
        cylinder_key, source, case_id, vehicle, opened, position_m, turn,
        CAST(CASE
            WHEN before_day IS NULL THEN 1
            WHEN opened_day - before_day > :window_days THEN 1
            WHEN segment = before_segment AND known_m - before_m > :window_m THEN 1
            ELSE 0
        END AS BIGINT) AS starts
    FROM with_befores
)
SELECT
    vehicle,
    cylinder_key,
    SUM(starts) OVER (
        PARTITION BY vehicle, cylinder_key ORDER BY turn ROWS BETWEEN UNBOUNDED PRECEDING AND CURRENT ROW
    ) AS chain,
    turn,
    source,
    case_id,
    opened,
    position_m
FROM with_starts
