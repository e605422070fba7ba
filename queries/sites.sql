-- The sites of a store: what `--site` may name.
-- Row: one site with a visit or a case.
-- Key: site.
-- Grain: the whole store, before any filter.
-- Order: site.
SELECT site
FROM (
    SELECT site FROM visits
    UNION ALL
    SELECT site FROM cases
) AS seen
WHERE site IS NOT NULL
GROUP BY site
ORDER BY site
