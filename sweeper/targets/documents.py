"""The list of targets: one entry a set of numbers, with its document and how the numbers are known."""

from __future__ import annotations

from sweeper.targets.target import Kind, Status, Target

_LOW_RATE = "For codecs of a low rate, such as MPEG-1 Layer 2 and AC-3, at most -2 dBTP."
_TOLERANCE_OF_R128 = "No tolerance of its own is known to us: that of R 128 is held."
_AES_SOURCE = "table 1, by three quotations that agree; by whom is not written down"
_AES_TOLERANCE = "The tolerance is in one or two of the quotations only."


def _ebu(id: str, document: str, edition: str, applies_to: str, tolerance_lu: float, sections: str,
         short_term_max_lufs: float | None = None, notes: tuple[str, ...] = ()) -> Target:  # fmt: skip
    source = f"EBU Tech 3343 (2023), {sections}"
    return Target(id, Kind.DELIVERY, document, edition, "2023", applies_to, -23.0, tolerance_lu, tolerance_lu, -1.0,
                  Status.TOLD, source, short_term_max_lufs, notes)  # fmt: skip


def _aes(id: str, applies_to: str, loudness_lufs: float, below_lu: float | None, above_lu: float | None) -> Target:
    return Target(id, Kind.PLAYBACK, "AES TD1008", "AESTD1008.1.21-9", "2021-09-24", applies_to, loudness_lufs,
                  below_lu, above_lu, -1.0, Status.QUOTED, _AES_SOURCE,
                  notes=("The true peak is that of what the codec is given.",
                         *(() if above_lu is None else (_AES_TOLERANCE,))))  # fmt: skip


TARGETS: tuple[Target, ...] = (
    _ebu("ebu-r128", "EBU R 128", "version 5", "programmes for broadcast", 0.2, "sections 2, 3 and 11.2.3",
         notes=(_LOW_RATE,)),
    _ebu("ebu-r128-live", "EBU R 128", "version 5", "live programmes for broadcast", 1.0, "sections 2, 3 and 11.2.3",
         notes=(_LOW_RATE,)),
    _ebu("ebu-r128-short-form", "EBU R 128 s1", "as told by EBU Tech 3343 (2023)",
         "advertisements, promos and other short forms", 0.2, "section 9.1", -18.0,
         (_TOLERANCE_OF_R128, "The loudness range is not to be used on short forms.")),
    _ebu("ebu-r128-streaming", "EBU R 128 s2", "as told by EBU Tech 3343 (2023)", "programmes for streaming", 0.2,
         "section 9.2",
         notes=(_TOLERANCE_OF_R128, "The distributor may turn it to -20 to -16 LUFS for the time being; what is "
                "delivered stays at -23 LUFS.")),
    Target("atsc-a85", Kind.DELIVERY, "ATSC A/85", "A/85:2013 and A/85:2026-07, section 6", "2026-07",
           "programmes for television", -24.0, 2.0, 2.0, -2.0, Status.QUOTED,
           "two quotations that agree, of both editions; by whom is not written down",
           notes=("From memory: long programmes are held by their dialogue; here the whole file is measured.",
                  "One quotation gives -27 to -23 LUFS for streaming (A/85:2026-07, annex L.5); not held here.")),
    _aes("aes-td1008-music-track", "music, each track turned by itself", -16.0, 0.2, 0.2),
    _aes("aes-td1008-music-album", "music, an album turned as one: its loudest track", -14.0, None, None),
    _aes("aes-td1008-speech", "speech, and assorted content whose speech can be measured", -18.0, None, 1.0),
    _aes("aes-td1008-assorted", "assorted content whose speech cannot be measured", -18.0, None, 2.0),
    _aes("aes-td1008-interstitial", "what is put in between, and virtual assistants", -18.0, None, None),
)  # fmt: skip
BY_ID = {target.id: target for target in TARGETS}
#: The ids of what a master can be delivered to.
DELIVERY = tuple(target.id for target in TARGETS if target.kind is Kind.DELIVERY)
