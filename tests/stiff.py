"""Changes that make the two-axle demo vehicle what a textbook's truck is: one stiff block, its masses in the middle."""

CENTRED = {
    "mass.equipment.y": "0 m",
    "mass.fuel.y": "0 m",
    'mass."batteries and air".y': "0 m",
    'mass."tank shell".y': "0 m",
    "mass.water.y": "0 m",
}
STIFF_BLOCK = {
    "mount": "rigid",
    "body.torsional_stiffness": "1e6 kN*m/deg",
    "mounts.rigid.stiffness": "1e4 kN/mm",
    "frame.joint_factor": 1e3,
    "frame.youngs_modulus": "2.1e8 MPa",
    "frame.shear_modulus": "8e7 MPa",
    "cab.front_stiffness": "1e4 kN/mm",
    "cab.rear_stiffness": "1e4 kN/mm",
}
