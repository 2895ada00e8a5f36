/* The tree of emulated devices, for those beside the boards. Only where there is libumockdev. */
#ifndef TESTS_USB_USBFS_H
#define TESTS_USB_USBFS_H

struct _UMockdevTestbed;
/* Owned by the stage; NULL before its start. */
struct _UMockdevTestbed *usbfs_testbed(void);

#endif
