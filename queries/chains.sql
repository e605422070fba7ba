-- Failure events: cases of one cylinder of one vehicle, comebacks folded into the failure they belong to.
-- Row: one chain of cases.
-- Key: vehicle, cylinder_key, chain.
-- Grain: cases of a chain (as chain_cases links them) fold. The first case says when and where it failed, the last what it was.
-- Order: none, written to a file whose readers sum whole numbers or order for themselves.
WITH ends AS (
    SELECT vehicle, cylinder_key, chain, MIN(turn) AS first_turn, MAX(turn) AS last_turn
    FROM chain_cases
    GROUP BY vehicle, cylinder_key, chain
)
SELECT
    e.vehicle,
    e.cylinder_key,
    e.chain,
    e.last_turn - e.first_turn AS comebacks,
    f.source AS first_source,
    f.case_id AS first_case,
    l.source AS last_source,
    l.case_id AS last_case
FROM ends AS e
JOIN chain_cases AS f ON e.vehicle = f.vehicle AND e.cylinder_key = f.cylinder_key AND e.first_turn = f.turn
JOIN chain_cases AS l ON e.vehicle = l.vehicle AND e.cylinder_key = l.cylinder_key AND e.last_turn = l.turn
