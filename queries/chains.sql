-- Failure events: cases of one cylinder of one vehicle, comebacks folded into the failure they belong to.
-- Row: one chain of cases.
-- Key: vehicle, cylinder_key, chain.
-- Grain: cases with a finding that counts fold by cylinder and time.
-- A case continues the chain when it opened at most :window_days after the case before it ended and at most :window_m
-- further on; a distance that is unknown, or spans two odometer segments, does not break a chain. The first case says
-- when and where it failed, the last what it was.
-- Order: none, written to a file whose readers sum whole numbers or order for themselves.
WITH cases_by_cylinder AS (
    SELECT DISTINCT source, case_id, cylinder_key
    FROM failures
),
in_order AS (
    SELECT
        b.cylinder_key,
        p.source, p.case_id, p.vehicle, p.opened, p.known_m, p.segment,
        CAST(p.opened AS BIGINT) AS opened_day,
        CAST(p.ended AS BIGINT) AS ended_day
    FROM cases_by_cylinder AS b
    JOIN placed_cases AS p ON b.source = p.source AND b.case_id = p.case_id
),
with_befores AS (
    SELECT
        cylinder_key, source, case_id, vehicle, opened_day, known_m, segment,
        CAST(ROW_NUMBER() OVER (PARTITION BY vehicle, cylinder_key ORDER BY opened_day, ended_day, source, case_id) AS BIGINT) AS place,
        LAG(ended_day) OVER (PARTITION BY vehicle, cylinder_key ORDER BY opened_day, ended_day, source, case_id) AS before_day,
        LAG(known_m) OVER (PARTITION BY vehicle, cylinder_key ORDER BY opened_day, ended_day, source, case_id) AS before_m,
        LAG(segment) OVER (PARTITION BY vehicle, cylinder_key ORDER BY opened_day, ended_day, source, case_id) AS before_segment
    FROM in_order
),
with_starts AS (
    SELECT
        cylinder_key, source, case_id, vehicle, place,
        CAST(CASE
            WHEN before_day IS NULL THEN 1
            WHEN opened_day - before_day > :window_days THEN 1
            WHEN segment = before_segment AND known_m - before_m > :window_m THEN 1
            ELSE 0
        END AS BIGINT) AS starts
    FROM with_befores
),
chained AS (
    SELECT
        cylinder_key, source, case_id, vehicle, place,
        SUM(starts) OVER (
            PARTITION BY vehicle, cylinder_key ORDER BY place ROWS BETWEEN UNBOUNDED PRECEDING AND CURRENT ROW
        ) AS chain
    FROM with_starts
),
ends AS (
    SELECT vehicle, cylinder_key, chain, MIN(place) AS first_place, MAX(place) AS last_place
    FROM chained
    GROUP BY vehicle, cylinder_key, chain
)
SELECT
    e.vehicle,
    e.cylinder_key,
    e.chain,
    e.last_place - e.first_place AS comebacks,
    f.source AS first_source,
    f.case_id AS first_case,
    l.source AS last_source,
    l.case_id AS last_case
FROM ends AS e
JOIN chained AS f ON e.vehicle = f.vehicle AND e.cylinder_key = f.cylinder_key AND e.first_place = f.place
JOIN chained AS l ON e.vehicle = l.vehicle AND e.cylinder_key = l.cylinder_key AND e.last_place = l.place
