"""What is encoded: links, QR symbols, retail bars and lot codes."""

__all__ = ("links", "lot_code", "print_quality", "qr", "retail_bars")
