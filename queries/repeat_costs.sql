-- What failure events cost, all their cases together.
-- Row: one currency and price year of one failure event.
-- Key: vehicle, cylinder_key, chain, currency, price_year (unknown values are keys of their own).
-- Grain: findings of the event's cylinder in all its cases fold, whatever their confirmation: the money was spent.
-- cost: minor units; priced, free and declined: findings with a cost, with a cost of nothing, and declined.
SELECT
    m.vehicle,
    m.cylinder_key,
    m.chain,
    f.currency,
    f.price_year,
    SUM(COALESCE(f.cost, 0)) AS cost,
    SUM(CASE WHEN f.cost <> 0 THEN 1 ELSE 0 END) AS priced,
    SUM(CASE WHEN f.cost = 0 THEN 1 ELSE 0 END) AS free,
    SUM(CASE WHEN f.repair IN (:declined) THEN 1 ELSE 0 END) AS declined
FROM chain_cases AS m
JOIN findings_now AS f ON m.source = f.source AND m.case_id = f.case_id
JOIN cases_now AS c ON m.source = c.source AND m.case_id = c.case_id
JOIN vehicles AS v ON m.vehicle = v.vehicle
WHERE COALESCE(f.cylinder, c.complaint_cylinder, -1) = m.cylinder_key
-- each families
    AND v.engine_family IN (:families)
-- end
GROUP BY m.vehicle, m.cylinder_key, m.chain, f.currency, f.price_year
ORDER BY m.vehicle, m.cylinder_key, m.chain, f.currency, f.price_year
