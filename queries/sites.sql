-- A row is a site of the store; key and grain: site.
SELECT site
FROM (
    SELECT site FROM visits
    UNION ALL
    SELECT site FROM cases
) AS seen
WHERE site IS NOT NULL
GROUP BY site
ORDER BY site
