DROP TABLE samples_barcode;
DROP TABLE samples_sample;
