DROP TABLE laboratories_reference;
DROP TABLE laboratories_laboratory;
