-- Failure events: cases of one cylinder of one vehicle, comebacks folded into the failure they belong to.
-- Row: one chain of cases.
-- Key: vehicle, cylinder_key, chain.
-- Grain: cases of a chain (as chain_cases links them) fold. The first case says when and where it failed; the last with a finding
--   that counts, what it was.
-- Order: none, written to a file whose readers sum whole numbers or order for themselves.
SELECT
    vehicle,
    cylinder_key,
    chain,
    CAST(COUNT(*) AS BIGINT) - 1 AS comebacks,
    MIN(turn) AS first_case_no,
    MAX(CASE WHEN counts = 1 THEN turn END) AS last_case_no
FROM chain_cases
WHERE vehicle >= :first_vehicle AND vehicle < :end_vehicle
GROUP BY vehicle, cylinder_key, chain
