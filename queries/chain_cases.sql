-- Cases with a finding, each in the failure it belongs to: comebacks stand in the chain of the case they came back to.
-- Row: one case and one cylinder, of a chain in which some finding reaches :confirmation.
-- Key: turn, cylinder_key; also source, case_id, cylinder_key.
-- Grain: findings of one cylinder of one case fold. turn: number of the case (placed_cases), by which cases of one vehicle stand in
--   order of time. counts: 1 when a finding of this case and cylinder reaches the level.
-- A case continues the chain when it opened at most :window_days after the case before it ended and at most :window_m
-- further on; a distance that is unknown, or spans two odometer segments, does not break a chain. Parts that were fitted in vain
-- begin a chain like any other finding.
-- position_m: where the case stands on the engine's clock; unknown stays unknown.
-- Order: none, written to a file whose readers sum whole numbers or order for themselves.
WITH with_starts AS (
    SELECT
        case_no, cylinder_key, vehicle,
        vehicle * 1000 + cylinder_key AS line,
        CAST(CASE WHEN confirmation >= :confirmation THEN 1 ELSE 0 END AS BIGINT) AS counts,
        CAST(CASE
            WHEN days_after IS NULL THEN 1
            WHEN days_after > :window_days THEN 1
            WHEN metres_after > :window_m THEN 1
            ELSE 0
        END AS BIGINT) AS starts
    FROM cases_by_cylinder
    WHERE vehicle >= :first_vehicle AND vehicle < :end_vehicle
),
chained AS (
    SELECT
        case_no, cylinder_key, counts, vehicle,
        SUM(starts) OVER (PARTITION BY line ORDER BY case_no ROWS BETWEEN UNBOUNDED PRECEDING AND CURRENT ROW) AS chain
    FROM with_starts
),
reaching AS (
    SELECT vehicle, cylinder_key, chain, MAX(counts) AS counts
    FROM chained
    GROUP BY vehicle, cylinder_key, chain
)
SELECT
    c.vehicle,
    c.cylinder_key,
    c.chain,
    c.case_no AS turn,
    c.counts,
    p.source,
    p.case_id,
    p.opened,
    p.position_m
FROM chained AS c
JOIN reaching AS r ON c.vehicle = r.vehicle AND c.cylinder_key = r.cylinder_key AND c.chain = r.chain
JOIN placed_cases AS p ON c.case_no = p.case_no
WHERE r.counts = 1
    AND p.vehicle >= :first_vehicle AND p.vehicle < :end_vehicle
