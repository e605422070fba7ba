-- Records that more than one row of the store may be a version of.
-- Row: the upper bits of a digest (the key of a record) that several rows have.
-- Key: key_digest, the first digest with these bits.
-- Grain: rows of visits, cases and findings. A few records of one version are among them, which share the bits by chance.
-- Order: none, written to a file whose readers join it.
WITH keyed AS (
    SELECT digest - digest % 268435456 AS key_digest
    FROM visits
    WHERE digest >= :first_digest AND digest < :end_digest
    UNION ALL
    SELECT digest - digest % 268435456 AS key_digest
    FROM cases
    WHERE digest >= :first_digest AND digest < :end_digest
    UNION ALL
    SELECT digest - digest % 268435456 AS key_digest
    FROM findings
    WHERE digest >= :first_digest AND digest < :end_digest
)
SELECT key_digest
FROM keyed
GROUP BY key_digest
HAVING COUNT(*) > 1
