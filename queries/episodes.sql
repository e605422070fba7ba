-- Episodes: what failed, in which cylinder, when and where.
-- Row: one cause of one failure event.
-- Key: vehicle, cylinder, chain, cause.
-- Grain: one event has several rows when its last case has several causes; is_primary marks the one with the
--   highest confirmation, then the first found. Only causes of cases that have several are put in order: few do.
-- cylinder, odometer_m, position_m (on the engine's clock), engine_no: unknown stays unknown.
-- under_observation: whether it counts in a rate. after_last_visit: seen before, but after observation had ended; neither:
--   a walk-in, never seen before. All of them count in shares and cylinders.
-- Order: none, written to a file whose readers sum whole numbers or order for themselves.
WITH found AS (
    SELECT case_no, cylinder_key, cause, MAX(confirmation) AS confirmation, MIN(place) AS place
    FROM failures
    WHERE confirmation >= :confirmation
        AND vehicle >= :first_vehicle AND vehicle < :end_vehicle
    GROUP BY case_no, cylinder_key, cause
),
several AS (
    SELECT case_no, cylinder_key
    FROM found
    GROUP BY case_no, cylinder_key
    HAVING COUNT(*) > 1
),
in_order AS (
    SELECT
        f.case_no, f.cylinder_key, f.cause,
        ROW_NUMBER() OVER (
            PARTITION BY f.case_no, f.cylinder_key ORDER BY -f.confirmation, f.place, f.cause
        ) AS cause_order
    FROM found AS f
    JOIN several AS s ON f.case_no = s.case_no AND f.cylinder_key = s.cylinder_key
),
further AS (
    SELECT case_no, cylinder_key, cause, 1 AS is_further
    FROM in_order
    WHERE cause_order > 1
),
causes AS (
    SELECT
        c.vehicle, c.cylinder_key, c.chain, c.comebacks, c.first_case_no, c.last_case_no,
        f.cause, f.confirmation, f.place, o.is_further
    FROM (SELECT * FROM chains WHERE vehicle >= :first_vehicle AND vehicle < :end_vehicle) AS c
    JOIN found AS f ON c.last_case_no = f.case_no AND c.cylinder_key = f.cylinder_key
    LEFT JOIN further AS o ON f.case_no = o.case_no AND f.cylinder_key = o.cylinder_key AND f.cause = o.cause
),
places AS (
    SELECT *
    FROM placed_cases
    WHERE vehicle >= :first_vehicle AND vehicle < :end_vehicle
)
SELECT
    a.vehicle,
    CASE WHEN a.cylinder_key >= 0 THEN a.cylinder_key END AS cylinder,
    a.chain,
    a.cause,
    a.confirmation,
    a.is_further IS NULL AS is_primary,
    a.place,
    p.opened,
    p.site,
    p.engine_family,
    p.model_year,
    p.engine_no,
    p.known_m AS odometer_m,
    p.position_m,
    p.observed = 1 AS under_observation,
    p.seen_before = 1 AND p.observed = 0 AS after_last_visit,
    p.codes,
    a.comebacks,
    l.source,
    l.case_id
FROM causes AS a
JOIN places AS p ON a.first_case_no = p.case_no
JOIN places AS l ON a.last_case_no = l.case_no
