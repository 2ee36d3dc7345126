"""The rows of a coupon table, read and written back."""

import csv
import io


def rows_of(shop):
    return [dict(row) for row in csv.DictReader(io.StringIO(shop.read("coupons.csv")))]


def write(shop, rows):
    names = list(dict.fromkeys(name for row in rows for name in row))
    page = io.StringIO()
    writer = csv.DictWriter(page, names, restval="", lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    shop.write("coupons.csv", page.getvalue())
