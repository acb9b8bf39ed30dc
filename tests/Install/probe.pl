# Tries what a program under the gateway's service must not be able to do, and prints how each attempt ended.
# System call numbers are those of the machine that it runs on.
use strict;
use warnings;
use Config;
use Socket;
use POSIX ();

$| = 1;
my $arm = $Config{archname} =~ /aarch64/;
my %number = $arm
    ? (mount => 40, init_module => 105, clock_settime => 112, ptrace => 117, unshare => 97, personality => 92, chroot => 51, sched_setscheduler => 119)
    : (mount => 165, init_module => 175, clock_settime => 227, ptrace => 101, unshare => 272, personality => 135, chroot => 161, sched_setscheduler => 144);

sub tell_of { my ($what, $done) = @_; print "$what: ", ($done ? 'done' : $!), "\n"; }
sub call { my ($name, @arguments) = @_; return syscall($number{$name}, @arguments) == 0; }
sub written { my ($path) = @_; open(my $out, '>', $path) or return 0; close($out); return unlink($path); }

my ($none, $folder) = ('none', '/var/lib/sawedge');
tell_of('write its data', written("$folder/probe"));
tell_of('write the system', written('/usr/probe'));
tell_of('mount', call('mount', my $a = 'tmpfs', my $b = $folder, my $c = 'tmpfs', 0, 0));
tell_of('load a module', call('init_module', my $image = 'x', 1, my $options = ''));
tell_of('set the clock', call('clock_settime', 0, my $time = pack('q2', time, 0)));
tell_of('trace a process', call('ptrace', 16, getppid(), 0, 0));
tell_of('a name space', call('unshare', 0x00020000));
tell_of('another personality', call('personality', 0x0008));
tell_of('change its root', call('chroot', my $root = $folder));
tell_of('real-time', call('sched_setscheduler', 0, 1, my $priority = pack('i', 1)));
tell_of('a raw packet socket', socket(my $packet, 17, SOCK_RAW, 0));
tell_of('a socket', socket(my $stream, AF_INET, SOCK_STREAM, 0));
if (open(my $owned, '>', "$folder/probe")) { close($owned); }
tell_of('a file that runs as its owner', chmod(04755, "$folder/probe"));
unlink("$folder/probe");
my @others = grep { m{/(\d+)$} && $1 != $$ } glob('/proc/[0-9]*');
my @owners = grep { (stat($_))[4] != (stat("/proc/$$"))[4] } @others;
print 'processes of others: ', (@owners ? scalar(@owners) : 'none'), "\n";
tell_of('the log of the kernel', open(my $log, '<', '/dev/kmsg'));
my @disks = glob('/dev/sd* /dev/vd* /dev/nvme*');
print 'disks: ', ((grep { -e } @disks) ? "@disks" : $none), "\n";
