# SPDX-License-Identifier: GPL-3.0-or-later
"""Power part of the invented recorder: cell, USB, charger, power manager, side regulators."""

from __future__ import annotations

from .schematic import Circuit


def draw_inputs(c: Circuit) -> None:
    """Cell connector with fuse and gauge; USB-C receptacle with its protection."""
    c.chip(
        "J", "CELL", "CELL-6",
        "CELL+:po:VBAT_CELL CELL+:p:VBAT_CELL TEMP:p:BAT_TEMP ID:p:BAT_ID CELL-:p:GND CELL-:p:GND",
        at=(16.0, 40.0), turn=0, description="Cell connector, single lithium cell",
    )  # fmt: skip
    c.two("F", "3A", "1206", "VBAT_CELL", "VBAT_FUSED", "J1.CELL+")
    c.resistor("10m", "VBAT_FUSED", "VBAT", "F1.2", package="1206")
    c.chip(
        "U", "FUEL-GAUGE", "DFN-12",
        "BAT:pi:VBAT VREG:po:GAUGE_VREG VSS:pi:GND SRP:i:GAUGE_SRP SRN:i:GAUGE_SRN TS:i:GND "
        "SDA:b:I2C0_SDA SCL:i:I2C0_SCL INT_N:oc:GAUGE_INT_N BIN:i:GAUGE_BIN VSS:pi:GND VSS:pi:GND "
        "EP=EP:pi:GND",
        at=(8.8, 34.4), turn=0, description="Fuel gauge",
    )  # fmt: skip
    c.resistor("100R", "VBAT_FUSED", "GAUGE_SRP", "U1.SRP")
    c.resistor("100R", "VBAT", "GAUGE_SRN", "U1.SRN")
    c.two("C", "100n", "0402", "GAUGE_SRP", "GAUGE_SRN", "U1.SRP")
    c.capacitors("1u/0402", "GAUGE_VREG", "U1.VREG")
    c.resistor("10k", "GAUGE_BIN", "GND", "U1.BIN")
    c.resistor("100k", "1V8_ALWAYS", "BAT_ID", "J1.ID")
    c.two("D", "TVS 5V", "SOD-323", "VBAT_CELL", "GND", "J1.CELL+", names=("K", "A"))
    c.chip(
        "J", "USB-C", "USB-C-16",
        "A1=GND:p:GND A4=VBUS:p:VBUS_IN A5=CC1:b:USB_CC1 A6=D+:b:USB_DP A7=D-:b:USB_DM "
        "A9=VBUS:p:VBUS_IN A12=GND:p:GND B1=GND:p:GND B4=VBUS:p:VBUS_IN B5=CC2:b:USB_CC2 "
        "B6=D+:b:USB_DP B7=D-:b:USB_DM B9=VBUS:p:VBUS_IN B12=GND:p:GND "
        "SH=SHIELD:p:CHASSIS",
        at=(4.2, 22.0), turn=270, description="USB-C receptacle, USB 2.0",
    )  # fmt: skip
    c.resistor("5k1", "USB_CC1", "GND", "J2.A5")
    c.resistor("5k1", "USB_CC2", "GND", "J2.B5")
    c.chip(
        "U", "USB-ESD", "SOT-23-6",
        "IO1:b:USB_DP GND:pi:GND IO2:b:USB_DM IO2:b:USB_DM VBUS:pi:VBUS_IN IO1:b:USB_DP",
        near="J2.A6", description="ESD array of the USB data lines",
    )  # fmt: skip
    c.two("F", "2A", "1206", "VBUS_IN", "VBUS_FUSED", "J2.A9")
    c.two("FB", "120R@100MHz 3A", "0805", "VBUS_FUSED", "VBUS", "F2.2")
    c.two("D", "TVS 6V", "SOD-323", "VBUS_IN", "GND", "J2.A9", names=("K", "A"))
    c.resistor("1M", "CHASSIS", "GND", "J2.SH", side="bottom")
    c.two("C", "4n7", "0603", "CHASSIS", "GND", "J2.SH", side="bottom")


def draw_charger(c: Circuit) -> None:
    """Switching charger with power path: VBUS to VSYS, battery switch between VSYS and VBAT."""
    c.chip(
        "U", "CHARGER", "QFN-24",
        "VBUS:pi:VBUS VBUS:pi:VBUS PMID:po:CHG_PMID REGN:po:CHG_REGN BTST:p:CHG_BTST "
        "STAT:oc:- "
        "SCL:i:I2C0_SCL SDA:b:I2C0_SDA INT_N:oc:CHG_INT_N CE_N:i:CHG_CE_N QON_N:i:POWER_KEY_N "
        "TS:i:CHG_TS "
        "BAT:b:VBAT BAT:b:VBAT SYS:po:VSYS SYS:po:VSYS ILIM:i:CHG_ILIM GND:pi:GND "
        "PGND:pi:GND PGND:pi:GND SW:o:SW_CHG SW:o:SW_CHG OTG:i:GND AGND:pi:GND EP=EP:pi:GND",
        at=(17.6, 27.0), turn=0, description="Charger with power path",
    )  # fmt: skip
    c.two("L", "1u", "IND-3030", "SW_CHG", "VSYS", "U3.SW")
    c.two("C", "47n", "0402", "CHG_BTST", "SW_CHG", "U3.BTST")
    c.capacitors("10u/0603", "CHG_PMID", "U3.PMID")
    c.capacitors("4u7/0402", "CHG_REGN", "U3.REGN")
    c.capacitors("1u/0603", "VBUS", "U3.VBUS")
    c.capacitors("22u/0805", "VSYS", "U3.SYS")
    c.capacitors("10u/0603", "VBAT", "U3.BAT")
    c.resistor("10k", "CHG_CE_N", "GND", "U3.CE_N")
    c.resistor("820R", "CHG_ILIM", "GND", "U3.ILIM")
    c.resistor("5k6", "CHG_REGN", "CHG_TS", "U3.TS")
    c.resistor("0R", "CHG_TS", "BAT_TEMP", "U3.TS")
    c.resistor("10k", "1V8", "CHG_INT_N", "U3.INT_N")


def draw_power_manager(c: Circuit) -> None:
    """Power manager: four buck converters, four linear outputs, always-on supply, key, reset."""
    c.chip(
        "U", "POWER-MANAGER", "QFN-40",
        "VIN1:pi:VSYS SW1:o:SW_CORE SW1:o:SW_CORE PGND1:pi:GND FB1:i:CORE_0V95 "
        "VIN2:pi:VSYS SW2:o:SW_MEM PGND2:pi:GND FB2:i:MEM_1V1 AGND:pi:GND "
        "VIN_AON:pi:VSYS VREG:po:PMU_VREG VREF:p:PMU_VREF LDO1_OUT:po:1V8_ALWAYS "
        "PWRON_N:i:POWER_KEY_N RESET_N:oc:RESET_N INT_N:oc:PMU_INT_N SCL:i:I2C0_SCL "
        "SDA:b:I2C0_SDA SLEEP:i:PMU_SLEEP "
        "FB3:i:1V8 PGND3:pi:GND SW3:o:SW_1V8 VIN3:pi:VSYS VIN4:pi:VSYS "
        "SW4:o:SW_3V3 PGND4:pi:GND FB4:i:3V3 VIO:pi:1V8 CLK32:o:CLK_32K "
        "XOUT:o:RTC_XOUT XIN:i:RTC_XIN GPIO1:b:- LDO4_OUT:po:USB_3V3 LDO34_IN:pi:VSYS "
        "LDO3_OUT:po:SENSOR_2V8 LDO2_OUT:po:MEM_1V8 LDO2_IN:pi:VSYS AGND:pi:GND AGND:pi:GND "
        "EP=EP:pi:GND",
        at=(29.4, 31.4), turn=0, description="Power manager",
    )  # fmt: skip
    for switch, output, value, pin in (
        ("SW_CORE", "CORE_0V95", "470n", "SW1"),
        ("SW_MEM", "MEM_1V1", "1u", "SW2"),
        ("SW_1V8", "1V8", "1u", "SW3"),
        ("SW_3V3", "3V3", "1u5", "SW4"),
    ):
        c.two("L", value, "IND-2520", switch, output, f"U4.{pin}")
    for number in (1, 2, 3, 4):
        c.capacitors("10u/0603", "VSYS", f"U4.VIN{number}")
    c.capacitors("22u/0805", "CORE_0V95", "L2.2")
    c.capacitors("22u/0805", "MEM_1V1", "L3.2")
    c.capacitors("22u/0805", "1V8", "L4.2")
    c.capacitors("22u/0805", "3V3", "L5.2")
    c.capacitors("1u/0402", "VSYS", "U4.LDO34_IN")
    c.capacitors("1u/0402", "PMU_VREG", "U4.VREG")
    c.capacitors("100n/0402", "PMU_VREF", "U4.VREF")
    c.capacitors("2u2/0402", "1V8_ALWAYS", "U4.LDO1_OUT")
    c.capacitors("2u2/0402", "USB_3V3", "U4.LDO4_OUT")
    c.capacitors("2u2/0402", "SENSOR_2V8", "U4.LDO3_OUT")
    c.capacitors("2u2/0402", "MEM_1V8", "U4.LDO2_OUT")
    c.chip("Y", "32.768kHz", "XTAL-3215", "1:p:RTC_XIN 2:p:RTC_XOUT", near="U4.XIN")
    c.resistor("100k", "1V8_ALWAYS", "POWER_KEY_N", "U4.PWRON_N")
    c.resistor("10k", "1V8", "RESET_N", "U4.RESET_N")
    c.resistor("10k", "1V8", "PMU_INT_N", "U4.INT_N")
    c.resistor("2k2", "1V8", "I2C0_SCL", "U4.SCL")
    c.resistor("2k2", "1V8", "I2C0_SDA", "U4.SDA")
    c.resistor("100k", "PMU_SLEEP", "GND", "U4.SLEEP")


def draw_side_regulators(c: Circuit) -> None:
    """Audio regulator, radio load switch, analogue ferrite, codec buck, backlight boost."""
    c.chip(
        "U", "LDO 3V3", "SOT-23-5",
        "IN:pi:VSYS GND:pi:GND EN:i:AUDIO_EN NR:p:AUDIO_NR OUT:po:3V3_AUDIO",
        side="bottom", at=(20.0, 17.4), turn=0, description="Linear regulator for audio",
    )  # fmt: skip
    c.capacitors("1u/0402", "VSYS", "U5.IN", side="bottom")
    c.capacitors("4u7/0603", "3V3_AUDIO", "U5.OUT", side="bottom")
    c.capacitors("10n/0402", "AUDIO_NR", "U5.NR", side="bottom")
    c.resistor("100k", "AUDIO_EN", "GND", "U5.EN", side="bottom")
    c.chip(
        "U", "LOAD-SWITCH", "DFN-6",
        "OUT:po:3V3_RADIO OUT:p:3V3_RADIO CT:p:RADIO_CT ON:i:RADIO_EN IN:pi:3V3 IN:pi:3V3 "
        "EP=GND:pi:GND",
        side="bottom", at=(48.0, 11.0), turn=0, description="Load switch of the radio rail",
    )  # fmt: skip
    c.capacitors("1u/0402", "3V3", "U6.IN", side="bottom")
    c.capacitors("4u7/0603", "3V3_RADIO", "U6.OUT", side="bottom")
    c.capacitors("1n/0402", "RADIO_CT", "U6.CT", side="bottom")
    c.resistor("100k", "RADIO_EN", "GND", "U6.ON", side="bottom")
    c.two("FB", "600R@100MHz", "0603", "SENSOR_2V8", "ANALOG_2V8", "U4.LDO3_OUT", side="bottom")
    c.capacitors("1u/0402", "ANALOG_2V8", "FB2.2", side="bottom")
    c.two("FB", "600R@100MHz", "0402", "1V8", "PLL_1V8", "U9.VDD_PLL", side="bottom")
    c.chip(
        "U", "BUCK", "SOT-23-6",
        "EN:i:AUDIO_EN GND:pi:GND SW:o:SW_CODEC VIN:pi:VSYS MODE:i:GND FB:i:FB_CODEC",
        side="bottom", at=(27.0, 14.6), turn=0, description="Buck converter of the codec core",
    )  # fmt: skip
    c.two("L", "2u2", "IND-2520", "SW_CODEC", "CODEC_1V2", "U7.SW", side="bottom")
    c.capacitors("4u7/0603", "VSYS", "U7.VIN", side="bottom")
    c.capacitors("10u/0603", "CODEC_1V2", "L6.2", side="bottom")
    c.resistor("100k 1%", "CODEC_1V2", "FB_CODEC", "U7.FB", side="bottom")
    c.resistor("100k 1%", "FB_CODEC", "GND", "U7.FB", side="bottom")
    c.chip(
        "U", "BOOST-LED", "SOT-23-6",
        "SW:o:SW_BACKLIGHT GND:pi:GND FB:i:BACKLIGHT_FB EN:i:BACKLIGHT_PWM OVP:i:BACKLIGHT_19V "
        "VIN:pi:VSYS",
        at=(52.6, 34.0), turn=0, description="Boost converter of the backlight",
    )  # fmt: skip
    c.two("L", "10u", "IND-3030", "VSYS", "SW_BACKLIGHT", "U8.SW")
    c.two("D", "SCHOTTKY 40V", "SOD-323", "BACKLIGHT_19V", "SW_BACKLIGHT", "U8.SW",
          names=("K", "A"))  # fmt: skip
    c.capacitors("10u/0603 10u/0603", "VSYS", "U8.VIN")
    c.capacitors("2u2/0805", "BACKLIGHT_19V", "D3.1")
    c.resistor("10R", "BACKLIGHT_FB", "GND", "U8.FB", package="0603")
    c.resistor("100k", "BACKLIGHT_PWM", "GND", "U8.EN")
    # Snubber left open on this build: the field is the older way to say "not fitted".
    c.resistor("4R7", "SW_BACKLIGHT", "SNUB_BACKLIGHT", "U8.SW", fields={"DNP": "DNP"})
    c.two("C", "DNP", "0402", "SNUB_BACKLIGHT", "GND", "U8.SW")
