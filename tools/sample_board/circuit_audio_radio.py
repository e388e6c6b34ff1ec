# SPDX-License-Identifier: GPL-3.0-or-later
"""Audio and short-range radio of the recorder, test pads and mechanical parts."""

from __future__ import annotations

from .schematic import Circuit


def draw_audio(c: Circuit) -> None:
    """Codec, two microphones, headphone jack with protection, speaker connector."""
    c.chip(
        "U", "CODEC", "QFN-32",
        "AVDD:pi:3V3_AUDIO VMID:p:CODEC_VMID MICBIAS:po:MIC_BIAS MIC1_P:i:MIC1_P MIC1_N:i:MIC1_N "
        "MIC2_P:i:MIC2_P MIC2_N:i:MIC2_N AGND:pi:GND "
        "HP_L:o:HP_L HP_R:o:HP_R HP_GND:pi:GND CP_P:p:CODEC_CP_P CP_N:p:CODEC_CP_N "
        "CP_VDD:pi:1V8 CP_VSS:po:CODEC_VSS HP_MIC:i:HP_MIC "
        "VCORE:pi:CODEC_1V2 DVDD:pi:1V8 DGND:pi:GND MCLK:i:I2S_MCLK BCLK:b:I2S_BCLK WS:b:I2S_WS "
        "DI:i:I2S_DO DO:o:I2S_DI "
        "SCL:i:I2C1_SCL SDA:b:I2C1_SDA RST_N:i:RESET_N SPK_VDD:pi:VSYS SPK_P:o:SPK_P SPK_N:o:SPK_N "
        "SPK_GND:pi:GND AGND:pi:GND EP=EP:pi:GND",
        at=(20.8, 10.4), turn=270, description="Audio codec",
    )  # fmt: skip
    c.capacitors("1u/0402", "3V3_AUDIO", "U18.AVDD")
    c.capacitors("4u7/0402", "CODEC_VMID", "U18.VMID")
    c.capacitors("1u/0402", "MIC_BIAS", "U18.MICBIAS")
    c.capacitors("1u/0402", "1V8", "U18.CP_VDD")
    c.capacitors("1u/0402", "CODEC_VSS", "U18.CP_VSS")
    c.two("C", "1u", "0402", "CODEC_CP_P", "CODEC_CP_N", "U18.CP_P")
    c.capacitors("1u/0402", "CODEC_1V2", "U18.VCORE")
    c.capacitors("10u/0603", "VSYS", "U18.SPK_VDD")
    for number, place in ((1, (14.0, 3.4)), (2, (28.6, 3.4))):
        mic = c.chip(
            "MK", "MICROPHONE", "MIC-4",
            f"OUT:o:MIC{number}_OUT GND:pi:GND GND:pi:GND VDD:pi:MIC_BIAS",
            at=place, turn=0, description="MEMS microphone",
        )  # fmt: skip
        c.two("C", "100n", "0402", f"MIC{number}_OUT", f"MIC{number}_P", f"{mic.ref}.OUT")
        c.two("C", "100n", "0402", f"MIC{number}_N", "GND", f"{mic.ref}.GND")
    c.chip(
        "J", "HEADPHONE", "JACK-5", "L:p:HP_L R:p:HP_R MIC:p:HP_MIC GND:p:GND DET:p:HP_DETECT",
        at=(6.6, 9.8), turn=0, description="Headphone jack",
    )  # fmt: skip
    c.chip(
        "U", "AUDIO-ESD", "SOT-23-6",
        "IO1:b:HP_L GND:pi:GND IO2:b:HP_R IO3:b:HP_MIC NC:nc:- IO4:b:HP_DETECT",
        near="J5.R", description="ESD array of the headphone jack",
    )  # fmt: skip
    c.resistor("2k2", "MIC_BIAS", "HP_MIC", "U18.HP_MIC")
    c.resistor("100k", "1V8", "HP_DETECT", "J5.DET")
    c.chip(
        "J", "SPEAKER", "PAD-2", "SP+:p:SPK_OUT_P SP-:p:SPK_OUT_N",
        side="bottom", at=(14.6, 6.0), turn=0, description="Speaker connector",
    )  # fmt: skip
    c.two("FB", "220R@100MHz", "0603", "SPK_P", "SPK_OUT_P", "J6.SP+", side="bottom")
    c.two("FB", "220R@100MHz", "0603", "SPK_N", "SPK_OUT_N", "J6.SP-", side="bottom")


def draw_radio(c: Circuit) -> None:
    """Short-range radio with crystal, matching and antenna."""
    c.chip(
        "U", "RADIO", "QFN-24",
        "VDD:pi:3V3_RADIO VDD_PA:pi:3V3_RADIO GND:pi:GND RF:b:RF_CHIP GND:pi:GND "
        "VREG:po:RADIO_VREG XIN:i:RADIO_XIN XOUT:o:RADIO_XOUT GND:pi:GND CLK_32K:i:CLK_32K "
        "EN:i:RADIO_EN IRQ:o:RADIO_IRQ "
        "VDD_IO:pi:1V8 CMD:b:SDIO_CMD CLK:i:SDIO_CLK D0:b:SDIO_D0 D1:b:SDIO_D1 D2:b:SDIO_D2 "
        "D3:b:SDIO_D3 GND:pi:GND TEST:i:GND NC:nc:- GND:pi:GND VDD:pi:3V3_RADIO EP=EP:pi:GND",
        at=(52.4, 8.8), turn=270, description="Short-range radio",
    )  # fmt: skip
    c.capacitors("10u/0603", "3V3_RADIO", "U20.VDD")
    c.capacitors("1u/0402", "RADIO_VREG", "U20.VREG")
    c.capacitors("100n/0402", "1V8", "U20.VDD_IO")
    c.chip(
        "Y", "40MHz", "XTAL-2016", "1:p:RADIO_XIN GND:p:GND 3:p:RADIO_XOUT GND:p:GND",
        near="U20.XIN", description="Radio crystal",
    )  # fmt: skip
    c.two("C", "1p5", "0402", "RF_CHIP", "GND", "U20.RF")
    c.two("L", "2n7", "0402", "RF_CHIP", "RF_ANT", "U20.RF")
    c.chip("AE", "ANTENNA", "ANT-CHIP", "FEED:p:RF_ANT NC:nc:-", at=(53.4, 2.0), turn=0,
           description="Chip antenna")  # fmt: skip
    c.two("C", "1p DNP", "0402", "RF_ANT", "GND", "AE1.FEED")


def draw_test_and_mechanics(c: Circuit) -> None:
    """Test pads on the main rails, debug pads, fiducials, holes."""
    for net, near in (
        ("VBAT", "U3.BAT"), ("VBUS", "U3.VBUS"), ("VSYS", "U3.SYS"), ("3V3", "L5.2"),
        ("1V8", "L4.2"), ("1V8_ALWAYS", "U4.LDO1_OUT"), ("CORE_0V95", "L2.2"),
        ("MEM_1V1", "L3.2"), ("MEM_1V8", "U4.LDO2_OUT"), ("ANALOG_2V8", "FB2.2"),
        ("3V3_AUDIO", "U5.OUT"), ("3V3_RADIO", "U6.OUT"), ("CODEC_1V2", "L6.2"),
        ("BACKLIGHT_19V", "D3.1"), ("GND", "U4.EP"), ("GND", "U3.EP"), ("GND", "U8.GND"),
    ):  # fmt: skip
        c.chip("TP", net, "TESTPAD", f"1:p:{net}", side="bottom", near=near)
    for net in ("SWDIO", "SWCLK", "UART_TX", "UART_RX", "RESET_N"):
        pin = {"RESET_N": "RESET_N"}.get(net, net)
        c.chip("TP", net, "TESTPAD", f"1:p:{net}", side="bottom", near=f"U9.{pin}")
    for side, places in (
        ("top", ((8.0, 2.0), (60.2, 7.6), (7.6, 42.2))),
        ("bottom", ((8.0, 2.0), (60.2, 7.6), (7.6, 42.2))),
    ):
        for place in places:
            c.chip("FID", "FIDUCIAL", "FIDUCIAL", "", side=side, at=place, turn=0)
    for place in ((3.2, 3.2), (58.8, 3.2), (3.2, 40.8), (58.8, 40.8)):
        c.chip("H", "HOLE 2.2", "HOLE-2.2", "", at=place, turn=0)


def draw_all() -> Circuit:
    """Draw the whole recorder."""
    from . import circuit_digital, circuit_power

    circuit = Circuit()
    circuit_power.draw_inputs(circuit)
    circuit_power.draw_charger(circuit)
    circuit_power.draw_power_manager(circuit)
    circuit_power.draw_side_regulators(circuit)
    circuit_digital.draw_processor(circuit)
    circuit_digital.draw_memory(circuit)
    circuit_digital.draw_display(circuit)
    circuit_digital.draw_people(circuit)
    draw_audio(circuit)
    draw_radio(circuit)
    draw_test_and_mechanics(circuit)
    return circuit
